"""Speed step to drive level, as a decoder works it out by NMRA S-9.2.2.

CV2 is the level at step 1, CV6 at the middle step, CV5 at the top step, in 1/255 of the supply;
0 or 1 in CV5 or CV6 is "not used", and with 0 in CV2 the line is taken to rise from step 0.
CV67 to 94 are 28 levels of their own, and CV66 and CV95 trim forward and reverse by n/128.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from firmware_py.dynamics.sound import UnsoundError, whole

FULL_LEVEL = 255
TABLE_STEPS = 28
PLAIN_TRIM = 128
STEP_MODES = (14, 28, 126)
"""Packets of "128 steps" carry 126: 0 is stop and 1 emergency stop."""


@dataclass(frozen=True, slots=True)
class Drive:
    """The settings that were in force while a locomotive was measured."""

    steps: int = TABLE_STEPS
    start: int = 0
    middle: int = 0
    top: int = 0

    def __post_init__(self) -> None:
        if self.steps not in STEP_MODES:
            raise UnsoundError(f"the steps are 14, 28 or 126, not {self.steps}")
        for name, value in (("CV2", self.start), ("CV6", self.middle), ("CV5", self.top)):
            whole(name, value, 0, FULL_LEVEL)

    def level(self, step: int) -> float:
        """The drive level, 0 to 255, at a speed step."""
        here = whole("the speed step", step, 0, self.steps)
        if here == 0:
            return 0.0
        top = self.top if self.top > 1 else FULL_LEVEL
        half = self.steps // 2
        first, start = (1, self.start) if self.start else (0, 0)
        if self.middle <= 1:
            return _along(here, first, self.steps, start, top)
        if here <= half:
            return _along(here, first, half, start, self.middle)
        return _along(here, half, self.steps, self.middle, top)


def _along(step: int, low: int, high: int, at_low: float, at_high: float) -> float:
    return at_low + (at_high - at_low) * (step - low) / (high - low)


def table_level(table: Sequence[int], step: int, steps: int = TABLE_STEPS) -> float:
    """The level of a 28-entry table at ``step`` of ``steps``, straight between its entries."""
    place = whole("the speed step", step, 0, steps) * TABLE_STEPS / steps
    if place <= 1:
        return table[0] * place
    below = min(int(place), TABLE_STEPS - 1)
    return table[below - 1] + (table[below] - table[below - 1]) * (place - below)
