"""Cars that stand, roll and run away: the energy of a car on a grade.

v^2 = 2 g s (sin a - r cos a) / (1 + p), with r the rolling resistance as a part of the weight and
p the share of energy in the wheels' turning (textbook; rulebook section 11 leaves p out). Gravity
does not scale, so a model runs away far faster, to scale, than the real car would.
"""

from __future__ import annotations

from dataclasses import dataclass
from math import atan, cos, inf, sin, sqrt

from firmware_py.dynamics.sound import UnsoundError, above_zero, between, not_below_zero

G_MM = 9806.65
"""Standard gravity, mm/s^2."""

STEEPEST_PERCENT = 100.0


def _slope(grade_percent: float) -> float:
    return atan(between("the grade", grade_percent, 0, STEEPEST_PERCENT) / 100)


def pull(grade_percent: float, resistance: float) -> float:
    """How hard the grade pulls beyond the resistance, in parts of g; below 0 it holds."""
    slope = _slope(grade_percent)
    return sin(slope) - not_below_zero("the rolling resistance", resistance) * cos(slope)


def starts_at_percent(resistance: float) -> float:
    """The grade from which a car of that resistance keeps rolling once anything moves it."""
    return not_below_zero("the rolling resistance", resistance) * 100


def from_steady_grade(rise_mm: float, run_mm: float) -> float:
    """Resistance from the tilt on which a nudged car keeps an even speed: r = rise / run."""
    run = above_zero("the board's run", run_mm)
    return above_zero("the board's rise", rise_mm) / run


def from_ramp(height_mm: float, to_rest_mm: float) -> float:
    """Resistance from a ramp: height over the whole level-measured way to rest, r = h / L."""
    length = above_zero("the way to rest", to_rest_mm)
    height = above_zero("the ramp's height", height_mm)
    if height >= length:
        raise UnsoundError("the way to rest must be longer than the ramp is high")
    return height / length


def from_two_speeds(first_mm_s: float, second_mm_s: float, apart_mm: float) -> float:
    """Resistance on the level from two speeds: r = (v1^2 - v2^2) / (2 g s); 0 is come to rest."""
    first = above_zero("the first speed", first_mm_s)
    second = not_below_zero("the second speed", second_mm_s)
    if second >= first:
        raise UnsoundError("on level track the second speed must be below the first")
    return (first**2 - second**2) / (2 * G_MM * above_zero("the way between", apart_mm))


@dataclass(frozen=True, slots=True)
class Runaway:
    """What a car that is let go has come to after some way; ``seconds`` is None once nudged."""

    mm_per_s: float
    rolled_mm: float
    seconds: float | None

    @property
    def stops(self) -> bool:
        """Whether it has come to rest by then."""
        return self.mm_per_s == 0


def run_away(
    grade_percent: float,
    resistance: float,
    way_mm: float,
    *,
    nudge_mm_s: float = 0.0,
    turning: float = 0.0,
) -> Runaway:
    """A car let go, at ``nudge_mm_s``, at the top of ``way_mm`` of an even grade.

    One that the grade does not keep going rolls v^2 (1 + p) / (2 g (r cos a - sin a)) to rest.
    """
    way = above_zero("the way", way_mm)
    nudge = not_below_zero("the nudge", nudge_mm_s)
    inertia = 1 + not_below_zero("the wheels' share", turning)
    drive = G_MM * pull(grade_percent, resistance) / inertia
    squared = nudge**2 + 2 * drive * way
    if drive > 0:
        speed = sqrt(squared)
        return Runaway(speed, way, (speed - nudge) / drive)
    if nudge == 0:
        return Runaway(0.0, 0.0, None)
    if squared > 0:
        return Runaway(sqrt(squared), way, None)
    return Runaway(0.0, way if drive == 0 else min(way, nudge**2 / (-2 * drive)), None)


def roll_out_mm(speed_mm_s: float, resistance: float, turning: float = 0.0) -> float:
    """How far a car rolls on the level: v^2 (1 + p) / (2 g r); without end if r is 0."""
    speed = not_below_zero("the speed", speed_mm_s)
    share = not_below_zero("the wheels' share", turning)
    r = not_below_zero("the rolling resistance", resistance)
    return speed**2 * (1 + share) / (2 * G_MM * r) if r else (inf if speed else 0.0)
