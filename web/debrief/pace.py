"""Time at each step, and how it spreads: this session's against the layout's own history. Pure."""

from __future__ import annotations

import statistics
from bisect import bisect_right
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass

from web.debrief.evening import Evening, Stay, StepKey
from web.live.board import Round

Totals = Mapping[StepKey, Sequence[int]]
"""Microseconds that each round spent at each step."""


@dataclass(frozen=True, slots=True)
class Spread:
    """How numbers spread: the middle half lies between ``quarter`` and ``three_quarters``."""

    count: int
    low: float
    quarter: float
    median: float
    three_quarters: float
    high: float


def spread_of(numbers: Iterable[float]) -> Spread | None:
    """The spread of numbers; ``None`` of none. Quartiles are interpolated, ends included."""
    ordered = sorted(numbers)
    if not ordered:
        return None
    if len(ordered) == 1:
        [only] = ordered
        return Spread(1, only, only, only, only, only)
    quarter, median, three_quarters = statistics.quantiles(ordered, n=4, method="inclusive")
    return Spread(len(ordered), ordered[0], quarter, median, three_quarters, ordered[-1])


def step_totals(evening: Evening) -> dict[StepKey, list[int]]:
    """What each round spent at each step in all, however often it came back to it.

    A round's step that had not ended with the evening is left out: nobody knows how long it
    would have taken.
    """
    totals: dict[tuple[StepKey, int], int] = {}
    unended: set[tuple[StepKey, int]] = set()
    for stay in evening.stays:
        place = stay.key, _round_of(stay, evening)
        totals[place] = totals.get(place, 0) + stay.lasts_us
        if stay.open:
            unended.add(place)
    found: dict[StepKey, list[int]] = {}
    for place, lasts_us in totals.items():
        if place not in unended:
            found.setdefault(place[0], []).append(lasts_us)
    return found


def _round_of(stay: Stay, evening: Evening) -> int:
    work = evening.work.get(stay.spur)
    rounds: Sequence[Round] = work.rounds if work else ()
    return bisect_right(rounds, stay.began_us, key=lambda one: one.began_us) - 1


@dataclass(frozen=True, slots=True)
class StepTime:
    """One step of a spur's order: this session's times, and those of the sessions before."""

    spur: str
    phase: str
    step: str
    now: tuple[int, ...]
    now_spread: Spread
    before: Spread | None


def step_times(
    now: Totals, history: Sequence[Totals], orders: Mapping[str, Sequence[tuple[str, str]]]
) -> list[StepTime]:
    """Every step that this session has times for, in ``orders``: (phase, step) by spur."""
    times: list[StepTime] = []
    for spur, order in orders.items():
        for phase, step in order:
            key = spur, phase, step
            spread = spread_of(now.get(key, ()))
            if spread is not None:
                before = [one for totals in history for one in totals.get(key, ())]
                mine = tuple(now[key])
                times.append(StepTime(*key, mine, spread, spread_of(before)))
    return times
