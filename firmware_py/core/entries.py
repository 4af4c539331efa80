"""What the core answers: one frozen record for each thing that happened.

``t_us`` is session time in whole microseconds. ``tape/lines.py`` writes them as JSON Lines.
"""

from __future__ import annotations

from enum import StrEnum

import msgspec

from firmware_py.core.names import (
    BrakeTest,
    Command,
    Fault,
    Foreman,
    Phase,
    Rule,
    Shows,
    Stage,
)


class What(StrEnum):
    """The kinds of entry, in the order they stand in for one event (rulebook section 10)."""

    REFUSED = "refused"
    FAULT = "fault"
    SPEED = "speed"
    FOREMAN = "foreman"
    BRAKE_TEST = "brake-test"
    STAGE = "stage"
    VIOLATION = "violation"
    PHASE = "phase"
    OUTPUT = "output"


class Refused(msgspec.Struct, frozen=True, tag=What.REFUSED.value, tag_field="what"):
    """A command that made no sense when it came; it changed nothing."""

    t_us: int
    command: Command
    spur: str | None
    violation: int | None
    why: str


class FaultEntry(msgspec.Struct, frozen=True, tag=What.FAULT.value, tag_field="what"):
    """Something is wrong with the wiring at ``at`` (a switch or a contact), or is no longer."""

    t_us: int
    fault: Fault
    at: str
    ended: bool


class SpeedEntry(msgspec.Struct, frozen=True, tag=What.SPEED.value, tag_field="what"):
    """A pass through the trap ``at``; ``mph`` is in scale miles per hour, not rounded."""

    t_us: int
    at: str
    mph: float


class ForemanEntry(msgspec.Struct, frozen=True, tag=What.FOREMAN.value, tag_field="what"):
    """What the foreman of a spur has last said."""

    t_us: int
    spur: str
    foreman: Foreman


class BrakeTestEntry(msgspec.Struct, frozen=True, tag=What.BRAKE_TEST.value, tag_field="what"):
    """A brake test began, ended or was broken; ``cars`` and ``seconds`` only as it begins."""

    t_us: int
    spur: str
    test: BrakeTest
    cars: int | None = None
    seconds: float | None = None


class StageEntry(msgspec.Struct, frozen=True, tag=What.STAGE.value, tag_field="what"):
    """A switch entered a stage."""

    t_us: int
    switch: str
    stage: Stage


class Violation(msgspec.Struct, frozen=True, tag=What.VIOLATION.value, tag_field="what"):
    """A rule was broken; ``number`` counts from 1 within the session."""

    t_us: int
    number: int
    rule: Rule
    at: str
    spur: str | None
    missing: tuple[str, ...]


class PhaseEntry(msgspec.Struct, frozen=True, tag=What.PHASE.value, tag_field="what"):
    """Where a spur's job stands and which step is next (``None`` while idle)."""

    t_us: int
    spur: str
    phase: Phase
    next_step: str | None


class OutputEntry(msgspec.Struct, frozen=True, tag=What.OUTPUT.value, tag_field="what"):
    """A lamp, bolt, power relay or buzzer changed."""

    t_us: int
    of: str
    output: str
    shows: Shows


Entry = (
    Refused
    | FaultEntry
    | SpeedEntry
    | ForemanEntry
    | BrakeTestEntry
    | StageEntry
    | Violation
    | PhaseEntry
    | OutputEntry
)
