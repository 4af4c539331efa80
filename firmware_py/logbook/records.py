"""What is read from the logbook: one frozen record for each row.

``t_us`` is session time and ``wall_us`` wall time since 1970 UTC, both in whole microseconds.
"""

from __future__ import annotations

from typing import Any

import msgspec


class SessionRecord(msgspec.Struct, frozen=True):
    """An operating session. ``ended_*`` are ``None`` while it runs, or when it was cut off.

    ``outset`` is how things stood as it began, in the shape that ``schema.SessionRow`` gives.
    ``tape_gap`` says why its tape is not whole, ``None`` where it is. ``opened`` is false for
    what went on between sessions.
    """

    id: int
    layout_name: str
    layout_path: str
    layout_toml: str
    simulated: bool
    began_wall_us: int
    ended_wall_us: int | None
    ended_t_us: int | None
    outset: dict[str, Any]
    tape_gap: str | None = None
    opened: bool = True


class EntryRecord(msgspec.Struct, frozen=True):
    """One entry of the core; ``line`` has the keys that a replay prints."""

    id: int
    t_us: int
    wall_us: int
    what: str
    at: str | None
    spur: str | None
    line: dict[str, Any]


class ViolationRecord(msgspec.Struct, frozen=True):
    """A violation as it stands now; unacknowledged while ``acknowledged_t_us`` is ``None``."""

    number: int
    t_us: int
    wall_us: int
    rule: str
    at: str
    spur: str | None
    missing: tuple[str, ...]
    times: int
    last_t_us: int
    acknowledged_t_us: int | None
    note: str | None


class StandingRecord(msgspec.Struct, frozen=True):
    """How a contact stands now; ``None`` is unknown, which is never safe."""

    contact: str
    raw: bool | None
    settled: bool | None
    edges: int
    wall_us: int


class RequestRecord(msgspec.Struct, frozen=True):
    """Something the screen asks; unanswered while ``answered_wall_us`` is ``None``.

    ``kind`` is ``"order"`` (``command`` with ``spur``, ``violation``, ``cars``, ``note``),
    ``"session"`` (``command``), ``"by-hand"`` (``output`` and ``command``, from ``note``) ,
    ``"hand"`` (``contact`` and ``made``), or a sitting's ``"commission"`` (``note``).
    """

    id: int
    wall_us: int
    kind: str
    command: str | None
    spur: str | None
    violation: int | None
    cars: int | None
    note: str | None
    contact: str | None
    made: bool | None
    answered_wall_us: int | None
    accepted: bool | None
    why: str | None
    output: str | None = None


class ByHandRecord(msgspec.Struct, frozen=True):
    """An output, ``thing.output``, that a host works by hand until ``until_t_us``."""

    output: str
    shows: str
    whence: str
    since_t_us: int
    until_t_us: int
    until_wall_us: int


class ReadingRecord(msgspec.Struct, frozen=True, gc=False):
    """A raw reading of the tape; one at 0 says how a contact stood as the session began."""

    id: int
    t_us: int
    contact: str
    made: bool | None


class RemarkRecord(msgspec.Struct, frozen=True):
    """What the engine had to say for itself; ``session_id`` is ``None`` before a session."""

    id: int
    session_id: int | None
    t_us: int | None
    wall_us: int
    text: str


class PulseRecord(msgspec.Struct, frozen=True):
    """The engine's pulse: ``beat`` grows while it is well, whatever the wall clock does."""

    beat: int
    state: str
    session_id: int | None


class HealthRecord(msgspec.Struct, frozen=True):
    """How the writing goes.

    ``queued`` counts what is not committed yet, ``last_error`` is why the latest try failed
    (``None`` when it did not), ``drops`` counts raw readings given up for lack of room and
    ``set_aside`` records that the database will never take, both since the start.
    """

    queued: int
    last_error: str | None
    drops: int
    set_aside: int
