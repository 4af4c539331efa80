"""A speed trap: two detectors a known distance apart (rulebook section 11)."""

from __future__ import annotations

from firmware_py.core.agenda import Agenda, Due, Timer
from firmware_py.core.contacts import Contact
from firmware_py.core.entries import OutputEntry, SpeedEntry
from firmware_py.core.event import SPEEDS, TRAP_OUTPUTS, Event
from firmware_py.core.names import Rule, Shows
from firmware_py.core.pace import scale_mph
from firmware_py.layout.model import Trap as TrapLayout

STOPPED_AFTER_US = 60_000_000
"""More than this between the edges is a stop within the trap, not a slow speed."""

LIT_US = 10_000_000
"""How long a trap's lamp tells of a pass over the limit."""


class TrapLamp:
    """A lineside lamp: steady for ten seconds from a pass over the limit, out at one within it.

    It goes with the violation: where none may be raised, it stays as it is.
    """

    __slots__ = ("_event", "of", "shows", "timer")

    def __init__(self, event: Event, agenda: Agenda, of: str) -> None:
        self._event = event
        self.of = of
        self.shows = Shows.OFF
        self.timer = Timer(agenda, Due.TRAP_LAMP, of, self._go_out)

    def passed(self, *, over: bool) -> None:
        """A train passed the trap."""
        if self._event.quiet:
            return
        if over:
            self.timer.set(self._event.t_us + LIT_US)
        else:
            self.timer.clear()
        self._show(Shows.STEADY if over else Shows.OFF)

    def _go_out(self) -> None:
        self._show(Shows.OFF)

    def _show(self, shows: Shows) -> None:
        if shows is not self.shows:
            self.shows = shows
            entry = OutputEntry(self._event.t_us, self.of, "lamp", shows)
            self._event.add(TRAP_OUTPUTS, entry)


class Trap:
    """Which detector became occupied first, and when its raw edge came."""

    __slots__ = ("_armed_by", "_armed_us", "_event", "_lamp", "_layout", "_ratio")

    def __init__(
        self, event: Event, layout: TrapLayout, ratio: float, lamp: TrapLamp | None = None
    ) -> None:
        self._event = event
        self._layout = layout
        self._ratio = ratio
        self._lamp = lamp
        self._armed_by: Contact | None = None
        self._armed_us = 0

    def passed(self, contact: Contact, occupied: bool) -> None:
        """One of the two detectors settled.

        One that was unknown until now tells nothing about when a train came: it neither arms
        nor reads, and what had armed the trap may be another train by now.
        """
        if contact.was is None:
            self._armed_by = None
        elif occupied:
            self._occupied(contact)

    def _occupied(self, contact: Contact) -> None:
        apart_us = abs(contact.began_us - self._armed_us)
        first = self._armed_by
        if first is None or first is contact or apart_us > STOPPED_AFTER_US:
            self._armed_by, self._armed_us = contact, contact.began_us
            return
        self._armed_by = None
        if apart_us:
            self._read(apart_us)

    def _read(self, apart_us: int) -> None:
        mph = scale_mph(self._layout.distance_mm, apart_us, self._ratio)
        self._event.add(SPEEDS, SpeedEntry(self._event.t_us, self._layout.id, mph))
        limit = self._layout.limit_mph
        over = limit is not None and mph > limit
        if over:
            self._event.breach_elsewhere(Rule.OVER_SPEED, self._layout.id)
        if self._lamp is not None:
            self._lamp.passed(over=over)
