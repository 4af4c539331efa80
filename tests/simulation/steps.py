"""What the script of a session is made of: one frozen record for each thing that is done to it.

A script is drawn whole before the session is played, so that steps can be dropped from it one by
one while what is left still fails.
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum

from firmware_py.core.orders import Order


class Trouble(StrEnum):
    """What a database can answer in place of what it was asked; the values are SQLite's words."""

    LOCKED = "database is locked"
    FULL = "database or disk is full"
    READ_ONLY = "attempt to write a readonly database"
    BROKEN = "disk I/O error"
    COMMIT = "disk I/O error (at commit)"
    FLAKY = "disk I/O error (now and then)"


@dataclass(frozen=True, slots=True)
class Move:
    """A hand or a wheel moves a contact. It bounces ``bounces_us`` apart and then lies still.

    The kernel hands the edges over ``late_us`` after they happened.
    """

    contact: str
    made: bool
    bounces_us: tuple[int, ...] = ()
    late_us: int = 0


@dataclass(frozen=True, slots=True)
class Say:
    """Somebody gives an order: at the board (``by_request``), or to the engine itself."""

    order: Order
    by_request: bool = False


@dataclass(frozen=True, slots=True)
class Hand:
    """Somebody asks at the board for a simulated hand."""

    contact: str
    made: bool | None


@dataclass(frozen=True, slots=True)
class Lose:
    """The chip of some contacts does not answer for a while."""

    contacts: tuple[str, ...]
    for_us: int


@dataclass(frozen=True, slots=True)
class Stick:
    """A contact stays where it is for a while, whatever moves it."""

    contact: str
    for_us: int


@dataclass(frozen=True, slots=True)
class Chatter:
    """A contact moves to and fro by itself, and ends where it was."""

    contact: str
    edges: int
    apart_us: int


@dataclass(frozen=True, slots=True)
class Flood:
    """A thousand readings in a millisecond, of contacts in turn."""

    contacts: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Disk:
    """The database is in trouble for a while."""

    trouble: Trouble
    for_us: int


@dataclass(frozen=True, slots=True)
class Stall:
    """The machine is busy: the engine, or all but the engine, gets no turn for a while."""

    engine: bool
    for_us: int


@dataclass(frozen=True, slots=True)
class Kill:
    """The engine's process is killed ``after`` so many points, and comes back after a while.

    ``at_commit`` lets it be killed just after the next commit that falls into a step.
    """

    after: int
    back_after_us: int
    at_commit: bool = False


@dataclass(frozen=True, slots=True)
class Restart:
    """The engine's process is told to stop, and comes back after a while."""

    back_after_us: int


@dataclass(frozen=True, slots=True)
class StepWall:
    """The wall clock is set."""

    by_us: int


@dataclass(frozen=True, slots=True)
class Raise:
    """A listener of the engine's raises at its next ``times`` entries."""

    times: int


Act = (
    Move
    | Say
    | Hand
    | Lose
    | Stick
    | Chatter
    | Flood
    | Disk
    | Stall
    | Kill
    | Restart
    | StepWall
    | Raise
)


@dataclass(frozen=True, slots=True)
class Step:
    """Something that is done at a time, in microseconds since the machine was switched on."""

    at_us: int
    act: Act


@dataclass(frozen=True, slots=True)
class Script:
    """A whole session: its seed, its layout file's text, the logbook's room, and what is done."""

    seed: int
    toml: str
    room: int
    steps: tuple[Step, ...]
