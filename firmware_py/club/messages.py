"""What goes over the wire between a box and its boards: JSON, read strictly. Pure.

``asyncapi.yaml`` beside this file describes the same for other programs. Ids of sessions,
entries and remarks are those of the box's own logbook, whose ``incarnation`` says which one that
is. ``t_us`` is session time and ``wall_us`` the box's own wall clock, in microseconds.
"""

from __future__ import annotations

from typing import Annotated, Any, TypeVar

import msgspec

from firmware_py.logbook.texts import storable

LARGEST = 8 * 1024 * 1024
"""Bytes of a message: a layout file may have four million, and its outset as much."""
MOST_ENTRIES = 500

_BIG = 2**62
Id = Annotated[int, msgspec.Meta(ge=0, le=_BIG)]
Us = Annotated[int, msgspec.Meta(ge=-_BIG, le=_BIG)]
Number = Annotated[int, msgspec.Meta(ge=1, le=2**31 - 1)]
Count = Annotated[int, msgspec.Meta(ge=0, le=2**31 - 1)]
Word = Annotated[str, msgspec.Meta(min_length=1, max_length=200)]
Note = Annotated[str, msgspec.Meta(max_length=2_000)]
Name = Annotated[str, msgspec.Meta(pattern=r"^[a-z][a-z0-9]*(-[a-z0-9]+)*$", max_length=64)]
Incarnation = Annotated[str, msgspec.Meta(pattern=r"^[0-9a-f]{32}$")]
Run = Annotated[str, msgspec.Meta(pattern=r"^[0-9a-f]{0,32}$")]
Line = dict[str, Any]


class PayloadError(ValueError):
    """A payload that can't be used; the text says why."""


class Tally(msgspec.Struct, frozen=True, forbid_unknown_fields=True):
    """What a session's violations add up to: a board that has the same has missed no change."""

    violations: Count = 0
    times: Id = 0
    acknowledged: Count = 0


class Health(msgspec.Struct, frozen=True, forbid_unknown_fields=True):
    """How a box fares, about once a second; ``here`` is false in its last will.

    ``entry`` and ``remark`` are the last ids of its logbook: a board that lacks some asks for
    them. ``standing`` is the revision of its contacts as they were last told. ``engine`` and
    ``beat`` are the engine's pulse, and ``session`` is what it guards; ``engine`` is ``by-hand``
    while it guards but an output is worked by hand, whose lamp then proves nothing. ``run`` is
    drawn anew whenever a courier starts, so that two with one name can be told apart, even where
    one's logbook is a copy of the other's.
    """

    here: bool
    incarnation: Incarnation
    wall_us: Us = 0
    engine: Word = "absent"
    beat: Id = 0
    session: Id | None = None
    entry: Id = 0
    remark: Id = 0
    standing: Id = 0
    tally: Tally = Tally()
    run: Run = ""


class Session(msgspec.Struct, frozen=True, forbid_unknown_fields=True):
    """A session, as the logbook's row has it; ``outset`` is the row's own JSON text."""

    id: Id
    layout_name: str
    layout_path: str
    layout_toml: str
    simulated: bool
    began_wall_us: Us
    ended_wall_us: Us | None
    ended_t_us: Us | None
    outset: str
    tape_gap: str | None
    opened: bool


class SessionSaid(msgspec.Struct, frozen=True, forbid_unknown_fields=True):
    """The newest session of a box."""

    incarnation: Incarnation
    session: Session


class Entry(msgspec.Struct, frozen=True, forbid_unknown_fields=True, array_like=True):
    """One entry; ``line`` is the JSON line that a replay prints, as the log holds it."""

    id: Id
    session: Id
    t_us: Us
    wall_us: Us
    what: Word
    at: str | None
    spur: str | None
    line: Annotated[str, msgspec.Meta(max_length=20_000)]


class Violation(msgspec.Struct, frozen=True, forbid_unknown_fields=True):
    """A violation as it stands now."""

    session: Id
    number: Number
    t_us: Us
    wall_us: Us
    rule: Word
    at: Word
    spur: str | None
    missing: tuple[str, ...]
    times: Number
    last_t_us: Us
    acknowledged_t_us: Us | None
    note: str | None


class Remark(msgspec.Struct, frozen=True, forbid_unknown_fields=True):
    """What an engine had to say for itself."""

    id: Id
    session: Id | None
    t_us: Us | None
    wall_us: Us
    text: str


class Batch(msgspec.Struct, frozen=True, forbid_unknown_fields=True):
    """A stretch of a logbook: every entry with ``after < id <= upto``, and remarks likewise.

    ``sessions`` and ``violations`` are rows that are new or have changed: each as a whole.
    """

    incarnation: Incarnation
    after: Id
    upto: Id
    remark_after: Id
    remark_upto: Id
    entries: tuple[Entry, ...] = ()
    remarks: tuple[Remark, ...] = ()
    sessions: tuple[Session, ...] = ()
    violations: tuple[Violation, ...] = ()


class Contact(msgspec.Struct, frozen=True, forbid_unknown_fields=True, array_like=True):
    """How a contact stands: null is unknown."""

    name: Word
    raw: bool | None
    settled: bool | None
    edges: Id
    wall_us: Us


class Standing(msgspec.Struct, frozen=True, forbid_unknown_fields=True):
    """How every contact stands now; ``revision`` says which telling this is."""

    incarnation: Incarnation
    revision: Id
    contacts: tuple[Contact, ...]


class Wanted(msgspec.Struct, frozen=True, forbid_unknown_fields=True):
    """A session whose row a board wants to hear anew, and its violations' changes.

    These are the changes at or after the session time ``since_us``.
    """

    id: Id
    since_us: Us = 0


class Fetch(msgspec.Struct, frozen=True, forbid_unknown_fields=True):
    """A board asks for what it lacks: what follows these ids, and how these sessions stand."""

    board: Name
    incarnation: Incarnation
    after: Id
    remark_after: Id
    sessions: Annotated[tuple[Wanted, ...], msgspec.Meta(max_length=50)] = ()


class Ask(msgspec.Struct, frozen=True, forbid_unknown_fields=True):
    """A board's request, as its host or a crew made it; ``id`` is the board's own for it.

    It is sent again until it is answered, and done once. The fields are those of a request in
    the logbook, with the box's own names.
    """

    id: Annotated[str, msgspec.Meta(pattern=r"^[a-z0-9-]{1,100}$")]
    board: Name
    kind: Word
    command: Word | None = None
    spur: Word | None = None
    violation: Number | None = None
    cars: Annotated[int, msgspec.Meta(ge=1, le=1_000)] | None = None
    note: Note | None = None
    contact: Word | None = None
    made: bool | None = None


class Answer(msgspec.Struct, frozen=True, forbid_unknown_fields=True):
    """What a box's engine has answered to a request."""

    id: Annotated[str, msgspec.Meta(max_length=100)]
    accepted: bool
    why: Note | None = None


Message = TypeVar("Message", bound=msgspec.Struct)


def encode(message: msgspec.Struct) -> bytes:
    """A message as JSON."""
    return msgspec.json.encode(message)


def decode(payload: bytes, shape: type[Message]) -> Message:
    """A payload as a message. Raises :class:`PayloadError` for anything that is none.

    Every text in what is answered is one that a database takes.
    """
    if len(payload) > LARGEST:
        raise PayloadError(f"{len(payload)} bytes are more than the {LARGEST} that are read")
    try:
        message = msgspec.json.decode(payload, type=shape)
    except (msgspec.MsgspecError, RecursionError, ValueError) as wrong:
        raise PayloadError(str(wrong)) from None
    if b"\\u" in payload or b"\0" in payload:  # Only escapes can bring what no database takes.
        return msgspec.convert(_storable(msgspec.to_builtins(message)), shape)
    return message


def line_of(entry: Entry) -> Line:
    """The parsed line of an entry. Raises :class:`PayloadError` where it is no JSON object."""
    try:
        return msgspec.json.decode(entry.line, type=dict[str, Any])
    except (msgspec.MsgspecError, RecursionError) as wrong:
        raise PayloadError(f"the line of entry {entry.id} is not a JSON object: {wrong}") from None


def _storable(value: object) -> object:
    match value:
        case str():
            return storable(value)
        case dict():
            return {storable(str(key)): _storable(one) for key, one in value.items()}
        case list() | tuple():
            return [_storable(one) for one in value]
        case _:
            return value
