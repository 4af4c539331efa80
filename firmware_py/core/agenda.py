"""What falls due when: every deadline of the core in one heap.

A timer's *rank* settles the order at one instant (rulebook section 3): settlings first, by
contact name; then gapped points, ``left-lined``, ``left-unlocked``, returns, brake tests and
quiet contacts, each by id; buzzers and traps' lamps last, since they only go out.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable
from enum import IntEnum, auto
from heapq import heappop, heappush


class Due(IntEnum):
    """The kinds of deadline, in the order in which those of one instant are served."""

    SETTLING = auto()
    GAPPED = auto()
    LEFT_LINED = auto()
    LEFT_UNLOCKED = auto()
    RETURN = auto()
    BRAKE_TEST = auto()
    QUIET = auto()
    BUZZER = auto()
    TRAP_LAMP = auto()


class Timer:
    """One deadline that can be set, moved and cleared; ``fire`` is called when it is due.

    ``fired_us`` is when it last was. ``queued_us`` is its earliest item in the heap.
    """

    __slots__ = ("agenda", "due_us", "fire", "fired_us", "name", "queued_us", "rank")

    def __init__(self, agenda: Agenda, kind: Due, owner: str, fire: Callable[[], None]) -> None:
        self.agenda = agenda
        self.name = (kind, owner)
        self.fire = fire
        self.rank = self.fired_us = 0
        self.due_us: int | None = None
        self.queued_us: int | None = None

    def set(self, due_us: int) -> None:
        """Fall due at ``due_us``, whatever was set before."""
        self.due_us = due_us
        if self.queued_us is None or due_us < self.queued_us:
            self.queued_us = due_us
            heappush(self.agenda.heap, (due_us, self.rank, self))

    def clear(self) -> None:
        """Don't fall due."""
        self.due_us = None


class Agenda:
    """The timers of one core.

    A timer that was moved or cleared leaves its item in the heap, where it is found stale when
    its turn comes; that is cheaper than looking for it.
    """

    __slots__ = ("heap",)

    def __init__(self) -> None:
        self.heap: list[tuple[int, int, Timer]] = []

    def next_us(self) -> int | None:
        """When the next timer falls due, or ``None``."""
        heap = self.heap
        while heap:
            at_us, _, timer = heap[0]
            if timer.due_us == at_us:
                return at_us
            self.pop()
        return None

    def pop(self) -> Timer | None:
        """Take the first item off the heap: its timer, or ``None`` where the item was stale."""
        at_us, _, timer = heappop(self.heap)
        if timer.due_us == at_us:
            timer.due_us = timer.queued_us = None
            timer.fired_us = at_us
            return timer
        if timer.queued_us == at_us:
            timer.queued_us = None
            if timer.due_us is not None:
                timer.set(timer.due_us)
        return None


def rank_all(timers: Iterable[Timer]) -> None:
    """Give every timer its rank; done once, before any is set."""
    for rank, timer in enumerate(sorted(timers, key=lambda timer: timer.name)):
        timer.rank = rank
