"""Forecasts against facts that they know nothing of; ``python -m tests.forecast`` has the long run.

Of the 80 % bands of right forecasts, the share that holds the fact is binomial: of 24 evenings
13 to 24 within three sigmas.
"""

from __future__ import annotations

from tests.forecast.calibrating import compared


def test_facts_fall_inside_the_band_as_often_as_it_says() -> None:
    found = list(compared(seed=11, count=24, evenings=50, warming=12))
    inside = sum(one.inside for one in found)
    assert 13 <= inside <= 24
    places = [one.place for one in found]
    assert 0.3 < sum(places) / len(places) < 0.7


def test_where_the_band_fails_the_bounds_are_wider() -> None:
    found = list(compared(seed=12, count=6, evenings=60, warming=6))
    for one in found:
        wide = one.answer.whole.together.high - one.answer.whole.together.low
        narrow = one.answer.whole.independent.high - one.answer.whole.independent.low
        assert narrow < one.answer.whole.high.value - one.answer.whole.low.value < wide * 1.5
