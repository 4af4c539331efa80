"""How entries are written as JSON Lines: the keys, their order and the rounding of section 10."""

from __future__ import annotations

import json
from typing import Any

from firmware_py.core.entries import (
    BrakeTestEntry,
    Entry,
    FaultEntry,
    ForemanEntry,
    OutputEntry,
    PhaseEntry,
    Refused,
    SpeedEntry,
    StageEntry,
    Violation,
    What,
)

Line = dict[str, Any]


def seconds(t_us: int) -> float:
    """Microseconds as seconds, rounded to a millisecond."""
    return round(t_us / 1_000_000, 3)


def line_of(entry: Entry) -> Line:
    """The line of an entry, its keys in the order they are printed."""
    head = {"t": seconds(entry.t_us), "what": what_of(entry).value}
    return head | _body(entry)


def text_of(entry: Entry) -> str:
    """The line of an entry as text, without its line end."""
    return json.dumps(line_of(entry))


def what_of(entry: Entry) -> What:
    """The kind of an entry."""
    return What(str(entry.__struct_config__.tag))


def _body(entry: Entry) -> Line:  # noqa: PLR0911 - one for each kind of entry
    match entry:
        case Refused(command=command, violation=None):
            return {"command": command.value, "spur": entry.spur, "why": entry.why}
        case Refused(command=command, violation=number):
            return {"command": command.value, "violation": number, "why": entry.why}
        case FaultEntry():
            return {"fault": entry.fault.value, "at": entry.at, "ended": entry.ended}
        case SpeedEntry():
            return {"at": entry.at, "mph": round(entry.mph, 2)}
        case ForemanEntry():
            return {"spur": entry.spur, "is": entry.foreman.value}
        case BrakeTestEntry(cars=None):
            return {"spur": entry.spur, "is": entry.test.value}
        case BrakeTestEntry(seconds=lasts):
            running = {"spur": entry.spur, "is": entry.test.value, "cars": entry.cars}
            return running | {"seconds": round(lasts or 0.0, 3)}
        case StageEntry():
            return {"switch": entry.switch, "stage": entry.stage.value}
        case Violation():
            where = {"number": entry.number, "rule": entry.rule.value, "at": entry.at}
            return where | {"spur": entry.spur, "missing": list(entry.missing)}
        case PhaseEntry():
            return {"spur": entry.spur, "phase": entry.phase.value, "next": entry.next_step}
        case OutputEntry():
            return {"of": entry.of, "output": entry.output, "shows": entry.shows.value}
