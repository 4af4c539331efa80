"""What a campaign must have met at least once, or else it has proved nothing about it."""

from __future__ import annotations

from collections.abc import Iterator

from firmware_py.core.entries import (
    BrakeTestEntry,
    Entry,
    FaultEntry,
    PhaseEntry,
    Refused,
    SpeedEntry,
    StageEntry,
    Violation,
)
from firmware_py.core.names import BrakeTest, Fault, Phase, Rule, Stage

from .steps import Trouble

PLAIN = (
    "begun anew after a stop",
    "contact found changed",
    "contact stuck",
    "edges handed over late",
    "engine could not begin",
    "engine stalled",
    "flood",
    "killed at a commit",
    "killed between two steps",
    "killed while waiting",
    "listener raised",
    "logbook stalled",
    "order on the tape",
    "order refused",
    "readings came too fast",
    "readings dropped",
    "request could not be left",
    "request left",
    "resumed",
    "speed taken",
    "stopped by hand",
    "wall clock set back",
    "wall clock set forward",
)

WANTED = frozenset(
    (
        *PLAIN,
        *(f"rule {rule}" for rule in Rule),
        *(f"stage {stage}" for stage in Stage),
        *(f"phase {phase}" for phase in Phase),
        *(f"fault {fault}" for fault in Fault),
        *(f"fault {fault} ended" for fault in Fault),
        *(f"brake test {test}" for test in BrakeTest),
        *(f"trouble {trouble.name}" for trouble in Trouble),
    )
)


def tags_of_entry(entry: Entry) -> Iterator[str]:
    """What an entry shows to have been met."""
    match entry:
        case Violation():
            yield f"rule {entry.rule}"
        case StageEntry():
            yield f"stage {entry.stage}"
        case PhaseEntry():
            yield f"phase {entry.phase}"
        case FaultEntry():
            yield f"fault {entry.fault}{' ended' if entry.ended else ''}"
        case BrakeTestEntry():
            yield f"brake test {entry.test}"
        case SpeedEntry():
            yield "speed taken"
        case Refused():
            yield "order refused"
        case _:
            pass


def tags_of_remark(text: str) -> Iterator[str]:
    """What a remark of the engine's shows to have been met."""
    if "when the engine last saw it" in text:
        yield "contact found changed"
    if "too fast to be judged" in text:
        yield "readings came too fast"
