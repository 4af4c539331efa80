"""How sure a speed trap's speed is, and how a trap's distance is corrected.

v = L / t; (sigma_v / v)^2 = (sigma_L / L)^2 + 2 sigma_t^2 / t^2 for stamps that err independently
(standard propagation of error; the worst case adds eps_L / L and 2 eps_t / t). Both errors are
taken as even within their bounds, so sigma is the bound over the square root of three.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from math import sqrt
from statistics import fmean, stdev

from firmware_py.dynamics.scale_speed import MM_PER_INCH, scale_mph, seconds_over
from firmware_py.dynamics.sound import UnsoundError, above_zero, not_below_zero

SPACING_MM = MM_PER_INCH / 16
"""How far the two detectors may be from where the ruler said: a sixteenth of an inch."""

TIMING_S = 0.005
"""How far each stamp may be from when the train came: what a scanned expander needs at most."""

COVERAGE = 2.0
"""Sigmas to each side. The usual coverage factor; at least 95 % for errors even in their bounds."""

MAY_HAVE_STOPPED_S = 30.0
"""From this long between the edges, a train that crept and one that paused look alike."""


@dataclass(frozen=True, slots=True)
class Doubt:
    """How far off a speed may be, in parts of the speed (0.01 is 1 %)."""

    sigma: float
    worst: float

    @property
    def stated(self) -> float:
        """What is shown after the plus-minus: two sigmas, never more than the worst case."""
        return min(COVERAGE * self.sigma, self.worst)


@dataclass(frozen=True, slots=True)
class Pass:
    """One pass: scale miles an hour, and how many to each side it may be off."""

    mph: float
    plus_minus: float
    seconds: float

    @property
    def may_have_stopped(self) -> bool:
        """Whether it was so long between the detectors that it may have paused there."""
        return self.seconds >= MAY_HAVE_STOPPED_S


def doubt(
    distance_mm: float, seconds: float, spacing_mm: float = SPACING_MM, timing_s: float = TIMING_S
) -> Doubt:
    """The doubt of a speed taken over ``distance_mm`` in ``seconds``."""
    length = above_zero("the distance", distance_mm)
    time = above_zero("the time", seconds)
    spacing = not_below_zero("the spacing's error", spacing_mm) / length
    stamp = not_below_zero("the stamps' error", timing_s) / time
    return Doubt(sqrt((spacing**2 + 2 * stamp**2) / 3), spacing + 2 * stamp)


def reading(
    distance_mm: float,
    seconds: float,
    ratio: float,
    spacing_mm: float = SPACING_MM,
    timing_s: float = TIMING_S,
) -> Pass:
    """The speed of a pass, with its doubt."""
    mph = scale_mph(distance_mm, seconds, ratio)
    stamps = not_below_zero("the stamps' error", timing_s)
    # As if the time were short by what is stated of it: v is not straight in t, and a short
    # trap shows that.
    shortest = max(seconds - COVERAGE * stamps * sqrt(2 / 3), seconds / 10)
    stated = doubt(distance_mm, shortest, spacing_mm, timing_s).stated
    return Pass(mph, mph * stated, seconds)


def reading_of_speed(
    distance_mm: float,
    mph: float,
    ratio: float,
    spacing_mm: float = SPACING_MM,
    timing_s: float = TIMING_S,
) -> Pass:
    """The same, from the speed that was logged: its time follows from the distance."""
    seconds = seconds_over(distance_mm, mph, ratio)
    return reading(distance_mm, seconds, ratio, spacing_mm, timing_s)


@dataclass(frozen=True, slots=True)
class Spacing:
    """A trap's corrected distance, and one sigma of it (``None`` of a single run)."""

    distance_mm: float
    was_mm: float
    sigma_mm: float | None


def corrected_spacing(was_mm: float, trap_mph: Sequence[float], true_mph: float) -> Spacing:
    """The distance that makes the trap show ``true_mph`` for runs it showed as ``trap_mph``.

    Each run gives distance x true / shown. Raises ``UnsoundError`` of no runs, and where the
    correction would be more than half of the distance: then something else is wrong.
    """
    was = above_zero("the trap's distance", was_mm)
    true = above_zero("the true speed", true_mph)
    if not trap_mph:
        raise UnsoundError("a calibration needs at least one pass of the trap")
    found = [was * true / above_zero("a pass's speed", shown) for shown in trap_mph]
    mean = fmean(found)
    if not 0.5 < mean / was < 1.5:
        raise UnsoundError(
            f"the correction would make {was:g} mm into {mean:.0f} mm: check the long distance, "
            "its time, and that the passes are of the same train at the same throttle step"
        )
    sigma = stdev(found) / sqrt(len(found)) if len(found) > 1 else None
    return Spacing(mean, was, sigma)
