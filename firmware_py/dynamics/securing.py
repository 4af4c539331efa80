"""Whether cars left on a spur need chocks, and how many.

A car is safe without where the grade is under the layout's own limit *and* under what the freest
car measured resists; either alone asks for chocks. That 1 % needs them is common practice. One
against the lower end of each cut that stands apart, and on no account fewer than one, is common
practice as well: no source was found that gives a number of chocks for models.
"""

from __future__ import annotations

from dataclasses import dataclass

from firmware_py.dynamics.rolling import Runaway, run_away, starts_at_percent
from firmware_py.dynamics.scale_speed import model_mm_per_s
from firmware_py.dynamics.sound import above_zero, between, whole

COUPLING_MPH = 4.0
"""The hardest coupling of common North American practice: what may nudge a standing car."""

MARGIN = 1.5
"""A car counts as held only where it would be on half as much grade again (common practice)."""


@dataclass(frozen=True, slots=True)
class Siding:
    """A spur as cars are left on it: ``way_mm`` is from where they stand to the clearance point.

    ``cuts`` is how many groups of cars stand apart there.
    """

    grade_percent: float
    way_mm: float
    ratio: float
    chock_from_percent: float
    cuts: int = 1

    def __post_init__(self) -> None:
        between("the grade", self.grade_percent, 0, 100)
        above_zero("the way to the clearance point", self.way_mm)
        above_zero("the scale's ratio", self.ratio)
        whole("the cuts that stand apart", self.cuts, 1, 50)


@dataclass(frozen=True, slots=True)
class Standing:
    """What becomes of a car left on a spur."""

    starts_at_percent: float | None
    """The grade at which it rolls; ``None`` while no car was measured."""
    let_go: Runaway | None
    """By the clearance point, from rest."""
    nudged: Runaway | None
    """By the clearance point, from a coupling at 4 scale mph."""
    needs_chocks: bool
    chocks: int
    why: str


def standing(siding: Siding, resistance: float | None) -> Standing:
    """Judge a spur; ``resistance`` is the freest car's, or ``None`` where none was measured."""
    grade = siding.grade_percent
    by_limit = grade >= siding.chock_from_percent
    if resistance is None:
        return Standing(
            None, None, None, by_limit, siding.cuts * by_limit, _by_limit(by_limit, grade)
        )
    starts = starts_at_percent(resistance)
    needs = by_limit or grade * MARGIN >= starts
    nudge = model_mm_per_s(COUPLING_MPH, siding.ratio)
    return Standing(
        starts,
        run_away(grade, resistance, siding.way_mm),
        run_away(grade, resistance, siding.way_mm, nudge_mm_s=nudge),
        needs,
        siding.cuts * needs,
        _why(grade, starts, by_limit=by_limit),
    )


def _by_limit(needs: bool, grade: float) -> str:
    if needs:
        return f"{grade:g} % is at or above the layout's own limit for chocks"
    return "under the layout's own limit for chocks; no car has been measured yet"


def _why(grade: float, starts: float, *, by_limit: bool) -> str:
    if grade > starts:
        return f"a car rolls off by itself from {starts:.2f} %, and this is {grade:g} %"
    if grade * MARGIN >= starts:
        return f"{grade:g} % is too near the {starts:.2f} % at which a car rolls off"
    if by_limit:
        return f"{grade:g} % is at or above the layout's own limit for chocks"
    return f"a car stands by itself up to {starts:.2f} %, well above {grade:g} %"
