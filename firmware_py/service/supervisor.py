"""Two processes, engine and screen, each of which can die and come back without the other.

This process opens no pin and no database: it only starts, watches and stops the two, so that
there is little in it that could fail.
"""

from __future__ import annotations

import contextlib
import math
import os
import signal
import subprocess
import sys
import time
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from functools import cache
from pathlib import Path
from types import FrameType

from firmware_py.health.notifying import Notifier, environ_untold
from firmware_py.health.record import ApplianceHealth, EngineHealth, read, write

BACK_OFF_S = (0.5, 1.0, 2.0, 5.0, 10.0, 30.0)
WELL_AFTER_S = 60.0
"""A process that ran this long was well; its next fall is its first again."""
STOP_WITHIN_S = 8.0
LOOK_EVERY_S = 0.1
ASK_EVERY_S = 1.0
HUNG_AFTER = 20
"""So many looks at the engine's health record, a second apart, each of which found no life."""
UNREADABLE = 2
_PR_SET_PDEATHSIG = 1


@dataclass(slots=True)
class Child:
    """One process: what it is called, how it is started, and how it fares.

    ``tells`` says that it may itself tell the service manager how it fares.
    """

    name: str
    command: Sequence[str]
    tells: bool = True
    process: subprocess.Popen[bytes] | None = None
    falls: int = 0
    began_s: float = 0.0
    again_at_s: float = 0.0
    starts: int = field(default=0)

    def start(self) -> None:
        """Start it."""
        self.process = subprocess.Popen(
            self.command,
            start_new_session=True,
            env=None if self.tells else environ_untold(),
            preexec_fn=_die_with_parent,  # noqa: PLW1509 - where threads run, all of it is looked up
        )
        self.began_s = time.monotonic()
        self.starts += 1

    def fell(self, now_s: float) -> float:
        """Note that it fell; answers how long to wait before it is started again."""
        self.process = None
        self.falls = 1 if now_s - self.began_s > WELL_AFTER_S else self.falls + 1
        wait_s = BACK_OFF_S[min(self.falls, len(BACK_OFF_S)) - 1]
        self.again_at_s = now_s + wait_s
        return wait_s

    def stop(self) -> None:
        """Ask it to stop, and insist if it doesn't."""
        if self.process is None:
            return
        self.process.terminate()
        try:
            self.process.wait(STOP_WITHIN_S)
        except subprocess.TimeoutExpired:
            self.process.kill()
            self.process.wait()


@dataclass(slots=True)
class Vigil:
    """Whether the engine hangs, by its health record; with ``None``, nobody can tell.

    Looks are counted rather than time, so that a machine that was stopped itself for a while
    finds no fault with the engine for that.
    """

    record: Path | None
    pid: int | None = None
    at_us: int | None = None
    moved: bool = False
    lifeless: int = 0
    asked_at_s: float = 0.0

    def hangs(self, pid: int, now_s: float) -> bool:
        """Whether the engine of process ``pid`` has moved once and now does so no more.

        ``now_s`` is in seconds of a monotonic clock; the record is read once in a second of it.
        """
        if self.record is None or now_s - self.asked_at_s < ASK_EVERY_S:
            return False
        self.asked_at_s = now_s
        if pid != self.pid:
            self.pid, self.at_us, self.moved, self.lifeless = pid, None, False, 0
        self.lifeless = 0 if self._lives(self.record, pid) else self.lifeless + 1
        if not self.moved or self.lifeless < HUNG_AFTER:
            return False
        self.lifeless = 0
        return _takes_records(self.record)

    def _lives(self, record: Path, pid: int) -> bool:
        health = read(record, EngineHealth)
        if health is None or health.pid != pid or health.at_us == self.at_us:
            return False
        # A card that takes its time is no reason to let go of the lamps.
        lives = all(part.moves for part in health.parts if part.name != "logbook")
        self.moved = self.moved or (lives and self.at_us is not None)
        self.at_us = health.at_us
        return lives


def _takes_records(record: Path) -> bool:
    """Whether a record could be written here: where none can, an old one proves nothing."""
    trial = record.with_name(f"{record.name}.trial")
    try:
        return write(trial, ApplianceHealth(os.getpid(), "", ""))
    finally:
        with contextlib.suppress(OSError):
            trial.unlink(missing_ok=True)


class Supervisor:
    """Keeps the engine and the screen running until told to stop.

    ``say`` is told what happens, in one line each, and ``notifier`` tells the service manager.
    ``record`` is where the engine leaves word of its health: one that hangs is killed.
    ``meanwhile`` is done while the engine begins, and before the screen does, so that the lamps
    have the processor first; it answers what else is to run, which the two need not have to do
    their work. Where it answers ``None``, the engine is about to say why it can't begin, and
    nothing else is started. On a board host a gatherer stands in the engine's place, and is
    ``called`` so.
    """

    def __init__(  # noqa: PLR0913 - what it starts, and a seam for each whom it tells
        self,
        engine: Sequence[str],
        screen: Sequence[str],
        say: Callable[[str], None],
        notifier: Notifier | None = None,
        *,
        record: Path | None = None,
        meanwhile: Callable[[], Sequence[Child] | None] = lambda: (),
        called: str = "engine",
    ) -> None:
        self.engine = Child(called, engine)
        # The watchdog is the engine's to feed: a screen that is well proves nothing of the lamps.
        self.screen = Child("screen", screen, tells=False)
        self._beside: tuple[Child, ...] = ()
        self._say = say
        self._meanwhile = meanwhile
        self._notifier = notifier or Notifier()
        self._vigil = Vigil(record)
        self._told = False  # No threading.Event: its lock is not for signal handlers.

    def run(self) -> int:
        """Serve until SIGINT, SIGTERM, or the engine's own good end; answers the exit status."""
        for number in (signal.SIGINT, signal.SIGTERM):
            signal.signal(number, self._tell)
        try:
            self.engine.start()
            beside = self._meanwhile()
            if beside is None:
                self.screen.again_at_s = math.inf
            else:
                self.screen.start()
                self._beside = tuple(beside)
            for child in self._beside:
                child.start()
            return self._watch()
        finally:
            self._notifier.tell("STOPPING=1", "STATUS=Stopping")
            # The engine first: bolts and power are its to make safe.
            self.engine.stop()
            self.screen.stop()
            for child in self._beside:
                child.stop()

    def _tell(self, _signal: int, _frame: FrameType | None) -> None:
        self._told = True

    def _watch(self) -> int:
        while not self._told:
            time.sleep(LOOK_EVERY_S)
            for child in (self.engine, self.screen, *self._beside):
                status = self._look(child)
                if status is not None:
                    return status
        return 0

    def _look(self, child: Child) -> int | None:
        now_s = time.monotonic()
        if child.process is None:
            if now_s >= child.again_at_s:
                child.start()
            return None
        status = child.process.poll()
        if status is None:
            if child is self.engine and self._vigil.hangs(child.process.pid, now_s):
                self._tell_all(f"The engine has shown no life for {HUNG_AFTER} s; it is killed.")
                child.process.kill()
            return None
        if child is self.engine and status in (0, UNREADABLE) and child.starts == 1:
            return status  # It ended by itself, or said why it can't begin.
        if child is self.engine and status == 0:
            return 0
        wait_s = child.fell(now_s)
        how = _how(status)
        self._tell_all(f"The {child.name} stopped ({how}); it starts again in {wait_s:g} s.")
        return None

    def _tell_all(self, text: str) -> None:
        self._say(text)
        self._notifier.tell(f"STATUS={text}")


def _how(status: int) -> str:
    if status < 0:
        return f"signal {signal.Signals(-status).name}"
    return f"exit status {status}"


@cache
def _prctl() -> Callable[[int, int], int]:
    import ctypes  # noqa: PLC0415 - the child's time; the other half of a start goes on

    prctl: Callable[[int, int], int] = ctypes.CDLL(None).prctl
    return prctl


def look_up_what_a_child_calls() -> None:
    """Call it first where threads run: between fork and exec a child may only call what is there.

    A process without threads leaves it to the child.
    """
    if sys.platform == "linux":
        _prctl()


def _die_with_parent() -> None:
    # Linux only: a supervisor that is killed must not leave an engine behind that nobody watches.
    if sys.platform == "linux":
        _prctl()(_PR_SET_PDEATHSIG, signal.SIGTERM)
