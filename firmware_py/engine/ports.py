"""What the engine needs of the rooms around it, and nothing more."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from contextlib import AbstractContextManager
from dataclasses import dataclass, field
from typing import Protocol

from firmware_py.core.core import Core
from firmware_py.core.entries import Entry
from firmware_py.core.names import Shows
from firmware_py.core.orders import Order


class Pins(Protocol):
    """The wires: a ``firmware_py.pins.board.Board``, or a test's own."""

    def levels(self) -> dict[str, bool | None]:
        """Every contact's raw level now."""

    def show(self, of: str, output: str, shows: Shows) -> None:
        """Have an output show something."""

    def refresh(self) -> None:
        """Write every output again."""

    def safe(self) -> Sequence[str]:
        """Shut bolts, power off, red lit; says what failed."""


class Diary(Protocol):
    """The logbook's writing side: a ``firmware_py.logbook.writing.Keeper``, or a test's own."""

    def together(self) -> AbstractContextManager[None]:
        """Have all that is told within the block kept as one, or not at all."""

    def tape(  # noqa: PLR0913 - one argument for each field of a line
        self,
        t_us: int,
        contact: str | None = None,
        made: bool | None = None,
        *,
        command: str | None = None,
        spur: str | None = None,
        violation: int | None = None,
        cars: int | None = None,
    ) -> None:
        """Take down a reading or an order."""

    def entry(self, entry: Entry, wall_us: int) -> None:
        """Take down an entry."""

    def repeat(self, number: int, times: int, t_us: int) -> None:
        """Take down that a violation came again."""

    def acknowledged(self, number: int, t_us: int, note: str | None = None) -> None:
        """Take down an acknowledgement."""

    def standing(
        self, contact: str, raw: bool | None, settled: bool | None, edges: int, wall_us: int
    ) -> None:
        """Take down how a contact stands."""

    def answer(self, request_id: int, accepted: bool, why: str | None = None) -> None:
        """Answer a request."""

    @property
    def writes(self) -> bool:
        """Whether what is told can be written now, as far as is known."""

    def by_hand(  # noqa: PLR0913 - one argument for each fact of a hand
        self,
        output: str,
        shows: str,
        *,
        whence: str,
        since_t_us: int,
        until_t_us: int,
        until_wall_us: int,
    ) -> None:
        """Take down that an output is worked by hand."""

    def hand_off(self, output: str) -> None:
        """Take down that it is not any more."""

    def remark(self, text: str, t_us: int | None = None) -> None:
        """Take down the engine's own words."""

    def pulse(self, state: str) -> None:
        """Take down that the engine is well."""


Begin = Callable[[Core], None]
"""Told of the core once a session begins, before anything happens in it."""

Anew = Callable[[Core, bool, int], str | None]
"""Told of a new core, whether a host opens its session, and when the last session ended.

It begins the new session, ends the last one, or says why it can't.
"""

Listener = Callable[[Entry], None]
"""Hears each entry on the engine's thread, after outputs and logbook; must not wait."""

Reading = tuple[int, str, bool | None]
"""As it comes off a pin: steady microseconds, contact, made."""


@dataclass(frozen=True, slots=True)
class Given:
    """An order with where it came from; ``request`` is the logbook's request to be answered.

    ``still`` is asked on the engine's thread as the order comes out of the queue: whether it is
    still wanted, for something may have overtaken it. ``left_us`` is when the request was left,
    in microseconds of the wall clock: it is for the session of that moment alone.
    """

    order: Order
    request: int | None = None
    note: str | None = None
    still: Callable[[], bool] | None = field(default=None, compare=False)
    left_us: int | None = field(default=None, compare=False)


@dataclass(frozen=True, slots=True)
class Check:
    """Time for the engine to look after itself; ``put_us`` is when, by the steady clock."""

    put_us: int = 0


@dataclass(frozen=True, slots=True)
class Checked:
    """A check that came back: when it was put, and up to when the core has left nothing undone.

    Both in microseconds of the steady clock.
    """

    put_us: int
    core_us: int


@dataclass(frozen=True, slots=True)
class Turn:
    """The host opens a session, or closes it; what goes on between is a session of its own.

    ``request`` is the logbook's request to be answered. ``wait_scale`` is the pace dial's for the
    session to come; ``None`` leaves it to the layout.
    """

    opened: bool
    request: int | None = None
    wait_scale: float | None = None


@dataclass(frozen=True, slots=True)
class Work:
    """A host works an output by hand; ``shows`` is ``None`` where he takes his hand off.

    ``whence`` is the address of his browser; ``request`` and ``left_us`` are as with ``Given``.
    """

    of: str
    output: str
    shows: Shows | None
    whence: str
    request: int
    left_us: int


@dataclass(frozen=True, slots=True)
class Moment:
    """One instant on the steady clock, in the session's time and on the wall clock."""

    steady_us: int
    t_us: int
    wall_us: int


@dataclass(frozen=True, slots=True)
class Flood:
    """Readings came faster than they could be judged, and some were dropped here."""


@dataclass(frozen=True, slots=True)
class Stop:
    """Time to stop."""


Item = Reading | Given | Work | Check | Turn | Flood | Stop
