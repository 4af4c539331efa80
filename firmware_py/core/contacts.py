"""One contact: from raw edges to a settled value (rulebook section 3), and its faults (7).

``settled`` and ``raw`` are ``True`` (made), ``False`` (open) or ``None`` (unknown). Whoever
reads a contact asks ``is True`` or ``is False``, so that an unknown one answers no to both.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Protocol

from firmware_py.core.agenda import Agenda, Due, Timer
from firmware_py.core.event import Event, Settled
from firmware_py.core.names import Fault

CHATTER_EDGES = 21
CHATTER_WITHIN_US = 1_000_000
QUIET_FOR_US = 5_000_000


class Home(Protocol):
    """The thing a contact belongs to; it counts the faults that are with it now."""

    faults: int


class Judge(Protocol):
    """The stand that looks at what an event did to its switch and spurs."""

    number: int

    def conclude(self, *, anew: bool) -> None:
        """Bring phases and outputs up to date; ``anew`` where more than the usual changed."""


React = Callable[["Contact", bool], None]


class Contact:
    """A contact as the core knows it.

    ``react`` is called when it settled, ``lose`` when it became unknown; ``was`` then is the
    value it had before. ``began_us`` is the raw edge that began the settled stay.
    """

    __slots__ = (
        "_clear_us",
        "_event",
        "_quiet",
        "_recent",
        "_settle_us",
        "_settling",
        "began_us",
        "chattering",
        "edge_us",
        "home",
        "judge",
        "lose",
        "name",
        "raw",
        "react",
        "settled",
        "was",
    )

    def __init__(
        self, event: Event, agenda: Agenda, name: str, settle_us: int, clear_us: int
    ) -> None:
        self.name = name
        self._event = event
        self._settle_us = settle_us
        self._clear_us = clear_us
        self._settling = Timer(agenda, Due.SETTLING, name, self._settle)
        self._quiet = Timer(agenda, Due.QUIET, name, self._end_chatter)
        self._recent: list[int] = []
        self.raw: bool | None = False
        self.settled: bool | None = False
        self.was: bool | None = False
        self.edge_us = self.began_us = 0
        self.chattering = False
        self.home: Home | None = None
        self.judge: Judge | None = None
        self.react: React = _ignore
        self.lose: Callable[[Contact], None] = _ignore_loss

    @property
    def timers(self) -> tuple[Timer, ...]:
        """The deadlines of this contact."""
        return self._settling, self._quiet

    def begin(self, made: bool | None) -> None:
        """Stand at ``made`` as the session begins; nothing is raised by that."""
        self.raw = self.settled = self.was = made
        if made is None and self.home is not None:
            self.home.faults += 1

    def edge(self, t_us: int, made: bool | None) -> None:
        """Take a raw reading. The same raw value again is nothing."""
        if made is self.raw:
            return
        self.raw = made
        if made is None:
            self._lose()
        elif made is self.settled:
            self._settling.clear()
        else:
            self._settling.set(t_us + (self._settle_us if made else self._clear_us))
        recent = self._recent
        if recent and t_us - recent[-1] >= CHATTER_WITHIN_US:
            recent.clear()
        recent.append(t_us)
        if len(recent) >= CHATTER_EDGES:
            del recent[:-CHATTER_EDGES]
            if recent[0] > t_us - CHATTER_WITHIN_US:
                self._begin_chatter()
        self.edge_us = t_us
        if self.chattering:
            self._quiet.set(t_us + QUIET_FOR_US)

    def _settle(self) -> None:
        event = self._event
        made = self.raw is True
        self.was = was = self.settled
        self.settled = made
        self.began_us = self.edge_us
        event.quiet = self.chattering or was is None
        if event.notes is not None:
            event.notes.append(Settled(event.t_us, self.name, made))
        judge = self.judge
        if judge is None:
            if was is None:
                self._fault(Fault.LOST, ended=True)
            self.react(self, made)
            return
        event.stand = judge.number
        if was is None:
            self._fault(Fault.LOST, ended=True)
        self.react(self, made)
        judge.conclude(anew=was is None)

    def _lose(self) -> None:
        self._settling.clear()
        if self.settled is None:
            return  # It had not settled since it was lost before: the fault still stands.
        self.was = self.settled
        self.settled = None
        event = self._event
        event.quiet = True
        if event.notes is not None:
            event.notes.append(Settled(event.t_us, self.name, None))
        self._fault(Fault.LOST, ended=False)
        self.lose(self)
        self._conclude()

    def _begin_chatter(self) -> None:
        if not self.chattering:
            self.chattering = True
            self._fault(Fault.CHATTERING, ended=False)
            self._conclude()

    def _end_chatter(self) -> None:
        self.chattering = False
        self._fault(Fault.CHATTERING, ended=True)
        self._conclude()

    def _fault(self, fault: Fault, *, ended: bool) -> None:
        if self.home is not None:
            self.home.faults += -1 if ended else 1
        self._event.fault(fault, self.name, ended=ended)

    def _conclude(self) -> None:
        if self.judge is not None:
            self._event.stand = self.judge.number
            self.judge.conclude(anew=True)


def made(contact: Contact | None) -> bool:
    """Whether a contact is fitted and known to be made."""
    return contact is not None and contact.settled is True


def clear(detector: Contact | None) -> bool:
    """Whether a section is clear: known to be, or without a detector."""
    return detector is None or detector.settled is False


def _ignore(contact: Contact, made: bool) -> None:
    """Nothing follows from this contact by itself (a key's hook, say)."""


def _ignore_loss(contact: Contact) -> None:
    """Nothing follows from losing this contact by itself."""
