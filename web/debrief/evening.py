"""An evening as the debrief knows it: spans and moments taken from a session's entries.

Times are session time in whole microseconds. A span whose ``ended_us`` is the evening's own
``length_us`` and whose ``open`` is true had not ended when the evening did.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from enum import StrEnum

from firmware_py.logbook.records import ViolationRecord
from web.live.board import Work


class WaitFor(StrEnum):
    """What paces the work: a foreman's answer, or a brake test."""

    FOREMAN = "foreman"
    BRAKE_TEST = "brake-test"


@dataclass(frozen=True, slots=True)
class Span:
    """A stay: in a stage, in a phase, with a fault. ``word`` is the rulebook's."""

    word: str
    began_us: int
    ended_us: int
    open: bool = False

    @property
    def lasts_us(self) -> int:
        """How long it lasted."""
        return self.ended_us - self.began_us


@dataclass(frozen=True, slots=True)
class Wait:
    """A wait at a spur. ``ending`` is how it came out, such as ``released`` or ``broken``."""

    spur: str
    what: WaitFor
    began_us: int
    ended_us: int
    ending: str
    open: bool = False

    @property
    def lasts_us(self) -> int:
        """How long it lasted."""
        return self.ended_us - self.began_us


@dataclass(frozen=True, slots=True)
class Stay:
    """A stay at one step of the work: ``step`` is the protection's id, ``foreman`` or ``work``."""

    spur: str
    phase: str
    step: str
    began_us: int
    ended_us: int
    open: bool = False

    @property
    def key(self) -> StepKey:
        """Which step of which spur's order it was."""
        return self.spur, self.phase, self.step

    @property
    def lasts_us(self) -> int:
        """How long it lasted."""
        return self.ended_us - self.began_us


StepKey = tuple[str, str, str]
"""Spur, phase (``opening``, ``working`` or ``closing``) and step."""


@dataclass(frozen=True, slots=True)
class Pass:
    """A pass through a speed trap, in scale miles per hour.

    ``toward`` is the detector at which it ended, empty where that is not known.
    """

    t_us: int
    trap: str
    mph: float
    toward: str = ""


@dataclass(frozen=True, slots=True)
class FaultSpan:
    """A fault of the wiring at a thing or contact."""

    fault: str
    at: str
    began_us: int
    ended_us: int
    open: bool = False


@dataclass(frozen=True, slots=True)
class Refusal:
    """A command that made no sense when it came."""

    t_us: int
    spur: str | None
    command: str
    why: str


@dataclass(slots=True)
class Evening:
    """All of it. ``stages`` are by switch, ``phases`` by spur, without the times at rest.

    ``work`` has the rounds of each spur; ``ended`` is false for the session that runs.
    """

    length_us: int
    ended: bool
    stages: dict[str, list[Span]] = field(default_factory=dict)
    phases: dict[str, list[Span]] = field(default_factory=dict)
    stays: list[Stay] = field(default_factory=list)
    waits: list[Wait] = field(default_factory=list)
    passes: list[Pass] = field(default_factory=list)
    faults: list[FaultSpan] = field(default_factory=list)
    refusals: list[Refusal] = field(default_factory=list)
    work: Mapping[str, Work] = field(default_factory=dict)
    violations: Sequence[ViolationRecord] = ()
    keys_out: Sequence[KeyOut] = ()

    @property
    def rounds(self) -> int:
        """How often a spur was opened and a train went in."""
        return sum(one.worked for at in self.work.values() for one in at.rounds)


@dataclass(frozen=True, slots=True)
class KeyOut:
    """A key that was not on its hook at the end; ``known`` is false where nobody can tell."""

    key: str
    known: bool
