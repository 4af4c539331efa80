"""Whether what a box says can be shown by a board: each kind of line has what is read of it. Pure.

A box is trusted with its own word, but not with the board: what it sends that can't be read must
not hold up the others.
"""

from __future__ import annotations

from typing import Annotated, Any

import msgspec

from firmware_py.club.messages import Entry, PayloadError, Session, line_of

Seconds = Annotated[float, msgspec.Meta(ge=-1e12, le=1e12)]
Number = Annotated[int, msgspec.Meta(ge=1, le=2**31 - 1)]


class _Stage(msgspec.Struct):
    switch: str
    stage: str


class _Phase(msgspec.Struct):
    spur: str
    phase: str
    next: str | None


class _Foreman(msgspec.Struct):
    spur: str
    is_: str = msgspec.field(name="is")


class _BrakeTest(msgspec.Struct):
    spur: str
    is_: str = msgspec.field(name="is")
    cars: Annotated[int, msgspec.Meta(ge=1, le=1_000)] = 1
    seconds: Seconds = 0.0


class _Output(msgspec.Struct):
    of: str
    output: str
    shows: str


class _Fault(msgspec.Struct):
    fault: str
    at: str
    ended: bool


class _Speed(msgspec.Struct):
    at: str
    mph: Seconds


class _Violation(msgspec.Struct):
    number: Number
    rule: str
    at: str
    spur: str | None
    missing: list[str]


class _Refused(msgspec.Struct):
    command: str
    why: str
    spur: str | None = None


_KINDS: dict[str, type[msgspec.Struct]] = {
    "stage": _Stage,
    "phase": _Phase,
    "foreman": _Foreman,
    "brake-test": _BrakeTest,
    "output": _Output,
    "fault": _Fault,
    "speed": _Speed,
    "violation": _Violation,
    "refused": _Refused,
}


class _Any(msgspec.Struct):
    t: Seconds
    what: str


class _Outset(msgspec.Struct):
    stages: dict[str, str] = {}
    phases: dict[str, tuple[str, str | None]] = {}
    foremen: dict[str, str] = {}
    outputs: dict[str, dict[str, str]] = {}
    faults: list[tuple[str, str]] = []


def check_line(entry: Entry) -> None:
    """Raise :class:`PayloadError` unless the entry's line has what is read of such a line."""
    line: dict[str, Any] = line_of(entry)
    try:
        common = msgspec.convert(line, _Any)
        if common.what != entry.what:
            raise PayloadError(f"entry {entry.id} and its line are of two kinds")
        kind = _KINDS.get(common.what)
        if kind is not None:
            msgspec.convert(line, kind)
        if common.what == "brake-test" and ("cars" in line) != ("seconds" in line):
            raise PayloadError(f"entry {entry.id}: cars and seconds belong together")
    except msgspec.ValidationError as wrong:
        raise PayloadError(f"the line of entry {entry.id} can't be read: {wrong}") from None


def check_outset(session: Session) -> None:
    """Raise :class:`PayloadError` unless a session's outset can be read."""
    try:
        msgspec.json.decode(session.outset, type=_Outset)
    except (msgspec.MsgspecError, RecursionError) as wrong:
        raise PayloadError(f"the outset of session {session.id} can't be read: {wrong}") from None
