"""How far a locomotive runs on with a braking setting, and the setting for a wanted distance.

The decoder walks down its steps, each for 0.896 x CV4 / N seconds (``momentum.py``). A staircase
that holds the step in force first runs 1/N further than the even fall, one that drops at once
1/N less; the prediction is the even fall between them. What a measured stop shows beyond that,
the maker's own timing and the flywheel among it, is its correction.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from firmware_py.dynamics.momentum import GREATEST_CV, SECONDS_FOR_CV
from firmware_py.dynamics.sound import UnsoundError, above_zero, between, whole

COARSE = 0.05
"""Where the nearest setting is further than this from what was wanted, that is said."""


@dataclass(frozen=True, slots=True)
class Correction:
    """What a measured stop has shown.

    The walk takes ``factor`` times as long, and the locomotive runs on for ``run_on_s`` more at
    the speed that it came with.
    """

    factor: float = 1.0
    run_on_s: float = 0.0

    def __post_init__(self) -> None:
        between("the correction", self.factor, 0.2, 5)
        between("the running on", self.run_on_s, 0, 60)


NONE = Correction()


def distance_mm(
    speeds_mm_s: Sequence[float], cv4: int, from_step: int, correction: Correction = NONE
) -> float:
    """How far it runs from a step to rest; ``speeds_mm_s`` are those of the steps 1 to N."""
    steps = whole("steps", len(speeds_mm_s), 1, 128)
    here = whole("the speed step", from_step, 0, steps)
    seconds = SECONDS_FOR_CV * whole("CV4", cv4, 0, GREATEST_CV) / steps
    if here == 0:
        return 0.0
    came_with = speeds_mm_s[here - 1]
    walked = sum(speeds_mm_s[:here]) - came_with / 2
    return walked * seconds * correction.factor + came_with * correction.run_on_s


def correction_of(
    speeds_mm_s: Sequence[float],
    cv4: int,
    from_step: int,
    measured_mm: float,
    entry_mm_s: float | None = None,
) -> Correction:
    """The correction that one measured stop shows.

    ``entry_mm_s`` is the speed that a trap read just before: the prediction is brought to it.
    One stop can't tell slow timing, which grows with the setting, from a flywheel, which does not;
    half of what it ran too far is given to each, so that neither can mislead much.
    """
    stopped = above_zero("the measured stopping distance", measured_mm)
    predicted = distance_mm(speeds_mm_s, cv4, from_step)
    if predicted <= 0:
        raise UnsoundError("a stop is measured from a step at which it moves, with CV4 above 0")
    came_with = speeds_mm_s[from_step - 1]
    if entry_mm_s is not None:
        predicted *= above_zero("the speed before the stop", entry_mm_s) / came_with
        came_with = entry_mm_s
    found = stopped / predicted
    if not 0.2 <= found <= 5:
        raise UnsoundError(
            f"it stopped in {found:.2g} times what was foretold: check the distance's unit, "
            f"and that CV4 was {cv4} and the throttle at step {from_step}"
        )
    if found <= 1:
        return Correction(found)
    return Correction((1 + found) / 2, min(60.0, (stopped - predicted) / 2 / came_with))


@dataclass(frozen=True, slots=True)
class Braking:
    """A setting, the distances foretold with it, and whether it is as near as one may want."""

    cv: int
    from_full_mm: float
    from_half_mm: float
    full_seconds: float
    coarse: bool


def braking(
    speeds_mm_s: Sequence[float], wanted_mm: float, correction: Correction = NONE
) -> Braking:
    """The setting that comes nearest to stopping in ``wanted_mm`` from full speed."""
    wanted = above_zero("the wanted stopping distance", wanted_mm)
    steps = len(speeds_mm_s)
    fixed = distance_mm(speeds_mm_s, 0, steps, correction)
    one = distance_mm(speeds_mm_s, 1, steps, correction) - fixed
    if one <= 0:
        raise UnsoundError("it does not move at its top step, so there is nothing to stop")
    cv = max(1, min(GREATEST_CV, round((wanted - fixed) / one)))
    full = distance_mm(speeds_mm_s, cv, steps, correction)
    return Braking(
        cv=cv,
        from_full_mm=full,
        from_half_mm=distance_mm(speeds_mm_s, cv, steps // 2, correction),
        full_seconds=SECONDS_FOR_CV * cv * correction.factor,
        coarse=abs(full / wanted - 1) > COARSE,
    )
