"""Virtual time, and the tasks that share it: one runs at a time, and a seed says which.

What would be a thread is a greenlet here. It gives way where a thread would wait, and at *points*
in between, where a kernel might have chosen to run another one, or to kill the process.
"""

from __future__ import annotations

import heapq
import math
from collections.abc import Callable
from dataclasses import dataclass, field
from random import Random

from greenlet import GreenletExit, getcurrent, greenlet

BEGAN_US = 7_000_000_000
"""The steady clock as a session begins: some two hours since the machine did."""
WALL_US = 1_750_000_000_000_000
"""The wall clock at that time."""
GIVES_WAY_ONE_IN = (2, 6, 20)
"""How often a task gives way at a point: one of these for a whole session."""
PATIENCE = (0, 0, 4, 15)
"""How many turns others have, when a task gives way, before it has its next."""
MOST_TURNS = 200_000
"""So many turns without time passing, and something runs in circles."""


class Killed(GreenletExit):
    """The process was killed: nothing of it may act again, not even to tidy up."""


class StuckError(AssertionError):
    """Tasks take turns for ever, and time does not pass."""


@dataclass(eq=False)
class Life:
    """One process, from its start to its end."""

    dead: bool = False
    tasks: list[Task] = field(default_factory=list)
    dies_in: int | None = None
    """So many points from now it is killed."""
    dies_at_commit: bool = False
    """It is killed just after the next commit in the midst of a step of its main task."""
    ended: Callable[[], None] = lambda: None
    """Called once, when nothing of it is left."""


@dataclass(eq=False)
class Task:
    """What would be a thread of a process."""

    name: str
    life: Life
    thread: greenlet
    ready: Callable[[], bool] | None = None
    due_us: int | None = None
    asleep_until_us: int = 0
    midway: bool = False
    """It gave way in the midst of what it does."""
    patient_until: int = 0
    """Others have their turns first up to this one, if any of them wants it."""

    def wakes(self, now_us: int) -> bool:
        """Whether it has something to do now."""
        if now_us < self.asleep_until_us:
            return False
        due = self.due_us is not None and self.due_us <= now_us
        return due or (self.ready is not None and self.ready())


@dataclass(order=True)
class Timer:
    """Something to be done at a time, unless it was called off."""

    at_us: int
    number: int
    act: Callable[[], object] | None = field(compare=False)


class Hub:
    """Gives turns to tasks and lets time pass when none has anything to do."""

    def __init__(self, random: Random) -> None:
        self.now_us = BEGAN_US
        self.wall_offset_us = WALL_US - BEGAN_US
        self.points = 0
        self._random = random
        self._gives_way_one_in = random.choice(GIVES_WAY_ONE_IN)
        self._timers: list[Timer] = []
        self._numbered = 0
        self._lives: list[Life] = []
        self._turns = 0
        self._current: Task | None = None
        self._main = getcurrent()

    # For the one who holds the strings.

    def at(self, at_us: int, act: Callable[[], object]) -> Timer:
        """Do something at a time."""
        self._numbered += 1
        timer = Timer(max(at_us, self.now_us), self._numbered, act)
        heapq.heappush(self._timers, timer)
        return timer

    def begin_life(self, name: str, act: Callable[[], object], ended: Callable[[], None]) -> Life:
        """Start a process, which ends with ``act``."""
        life = Life(ended=ended)
        self._lives.append(life)
        self.spawn(name, act, life)
        return life

    def spawn(self, name: str, act: Callable[[], object], life: Life | None = None) -> Task:
        """Start a thread: of a life, or else of the one whose task asks for it."""
        if life is None:
            assert self._current is not None, "only a process starts threads"
            life = self._current.life
        task = Task(name, life, greenlet(act, parent=self._main), ready=lambda: True)
        life.tasks.append(task)
        return task

    def kill(self, life: Life) -> None:
        """End a process at once."""
        life.dead = True
        for task in life.tasks:
            self._current = task
            while not task.thread.dead:
                task.thread.throw(Killed)
        self._current = None
        self._lives.remove(life)
        life.ended()

    def run(self, until_us: int, done: Callable[[], bool] = lambda: False) -> None:
        """Let things happen up to a time, or until ``done``."""
        turns = 0
        while not done():
            task = self._next_task()
            if task is not None:
                turns += 1
                if turns > MOST_TURNS:
                    raise StuckError(f"{task.name} runs in circles")
                self._give_turn(task)
                continue
            at_us = self._next_us()
            if at_us is None or at_us > until_us:
                self.now_us = max(self.now_us, until_us)
                return
            if at_us > self.now_us:
                self.now_us, turns = at_us, 0
            if self._timers and self._timers[0].at_us <= self.now_us:
                timer = heapq.heappop(self._timers)
                if timer.act is not None:
                    timer.act()

    # For those who dance.

    def block(self, ready: Callable[[], bool], timeout_s: float | None) -> bool:
        """Wait as a thread does; whether it was ready, and not merely too late."""
        task = self._task()
        task.ready = ready
        task.due_us = None
        if timeout_s is not None:
            wait_us = math.ceil(round(timeout_s * 1_000_000, 3))
            task.due_us = self.now_us + max(wait_us, 1 if timeout_s > 0 else 0)
        self._main.switch()
        return ready()

    def point(self, *, gives_way: bool = True) -> None:
        """Pass a point where a kill may fall, and where others may come in between."""
        task = self._current
        if task is None:
            return
        if task.life.dead:
            raise Killed
        self.points += 1
        life = task.life
        if life.dies_in is not None:
            life.dies_in -= 1
            if life.dies_in <= 0:
                life.dead = True
                raise Killed
        if gives_way and self._random.randrange(self._gives_way_one_in) == 0:
            task.patient_until = self._turns + self._random.choice(PATIENCE)
            task.midway = True
            self.block(lambda: True, None)
            task.midway = False

    def committed(self) -> None:
        """Pass the point just after a commit."""
        task = self._current
        if task is not None and task.life.dies_at_commit and task.life.tasks[0].midway:
            task.life.dead = True
            raise Killed
        self.point()

    def _task(self) -> Task:
        task = self._current
        assert task is not None, "only a task may wait"
        if task.life.dead:
            raise Killed
        return task

    def _next_task(self) -> Task | None:
        ready = [task for life in self._lives for task in life.tasks if task.wakes(self.now_us)]
        if len(ready) > 1:
            hasty = [task for task in ready if task.patient_until <= self._turns]
            return self._random.choice(hasty or ready)
        return ready[0] if ready else None

    def _give_turn(self, task: Task) -> None:
        self._turns += 1
        self._current = task
        task.ready = None
        try:
            task.thread.switch()
        finally:
            self._current = None
        life = task.life
        if life.dead or life.tasks[0].thread.dead:
            self.kill(life)
        elif task.thread.dead:
            life.tasks.remove(task)

    def _next_us(self) -> int | None:
        while self._timers and self._timers[0].act is None:
            heapq.heappop(self._timers)
        times = [self._timers[0].at_us] if self._timers else []
        for life in self._lives:
            for task in life.tasks:
                if task.asleep_until_us > self.now_us:
                    times.append(task.asleep_until_us)
                elif task.due_us is not None:
                    times.append(task.due_us)
        return min(times, default=None)
