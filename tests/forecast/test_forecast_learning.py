"""What is learnt from the log: step times, what is shared, how much newness costs, and lessons."""

from __future__ import annotations

import math
from random import Random
from statistics import NormalDist

import numpy as np
import pytest

from firmware_py.forecast.effects import effects_of
from firmware_py.forecast.lessons import Lesson, lesson_of, place_of
from firmware_py.forecast.sampling import Key, Sample, Standing
from firmware_py.forecast.site import spurs_of
from firmware_py.forecast.sources import ENOUGH, Sources
from firmware_py.forecast.usual import usual
from firmware_py.forecast.words import Past
from tests.forecast.forecast_evenings import LAYOUT

FLAG = Key("creamery", "opening", "creamery-flag")
U = (np.arange(4000) + 0.5) / 4000


def past(count: int, seconds: float, **more: object) -> list[Past]:
    steps = {"opening/creamery-flag": seconds}
    return [Past(at, "creamery", "red", 1, steps=steps, **more) for at in range(count)]  # type: ignore[arg-type]


def test_without_a_log_it_is_what_is_usual() -> None:
    source = Sources([], spurs_of(LAYOUT)).of(FLAG)
    low, likely, high = usual("opening", "flag")
    assert (source.count, source.measured) == (0, False)
    assert source.at(U).mean() == pytest.approx((low + 4 * likely + high) / 6, rel=0.01)


def test_one_time_moves_the_estimate_a_little_and_is_inside_it() -> None:
    source = Sources(past(1, 60.0), spurs_of(LAYOUT)).of(FLAG)
    assert source.count == 1
    assert not source.measured
    assert usual("opening", "flag")[1] < source.likely < 60
    assert source.low <= 60 <= source.high
    assert np.isfinite(source.table).all()


def test_twenty_times_stand_by_themselves() -> None:
    few = Sources(past(ENOUGH - 1, 60.0), spurs_of(LAYOUT)).of(FLAG)
    many = Sources(past(ENOUGH, 60.0), spurs_of(LAYOUT)).of(FLAG)
    assert not few.measured
    assert many.measured
    assert many.at(U).mean() == pytest.approx(60, rel=0.02)


def test_a_standing_with_twenty_times_has_its_own() -> None:
    known = [*past(30, 60.0, rounds_before=0), *past(30, 20.0, rounds_before=50)]
    sources = Sources(known, spurs_of(LAYOUT))
    new, seasoned = (sources.of(FLAG, one).at(U).mean() for one in Standing if one != "unknown")
    assert new > 1.8 * seasoned
    assert sources.effects.newness > 1.4


def made(seed: int, sessions: int, evening: float, crew: float) -> list[Sample]:
    random, found = Random(seed), []
    for session in range(sessions):
        whole = random.gauss(0, evening)
        for job in range(4):
            factor = math.exp(whole + random.gauss(0, crew))
            for step in range(25):
                seconds = random.gammavariate(4, 5) * factor
                key = Key("a", "opening", f"step-{step}")
                found.append(Sample(key, seconds, Standing.SEASONED, session, (job + 1, 0)))
    return found


@pytest.mark.parametrize(("evening", "crew"), [(0.3, 0.1), (0.1, 0.3), (0.0, 0.0), (0.25, 0.25)])
def test_shared_parts_are_found_again(evening: float, crew: float) -> None:
    found = effects_of(made(3, 60, evening, crew))
    assert found.evening == pytest.approx(evening, abs=0.07)
    assert found.crew == pytest.approx(crew, abs=0.05)


def test_without_a_log_the_shared_parts_are_the_priors() -> None:
    found = effects_of([])
    assert (found.evening, found.crew, found.newness) == (0.15, 0.15, 1.0)


def test_a_right_forecast_is_left_alone() -> None:
    places = [(at + 0.5) / 40 for at in range(40)]
    lesson = lesson_of(places)
    assert lesson.shift == pytest.approx(0, abs=1e-9)
    assert lesson.stretch == pytest.approx(1, abs=0.04)
    assert lesson_of([]) == Lesson()


def test_evenings_that_end_late_shift_the_next_forecast() -> None:
    lesson = lesson_of([0.9] * 40)
    assert lesson.bend(0.5) > 0.8
    assert lesson.unbend(lesson.bend(0.3)) == pytest.approx(0.3)
    few = lesson_of([0.9] * 2)
    assert 0.5 < few.bend(0.5) < 0.65


def test_facts_that_scatter_stretch_the_next_forecast() -> None:
    lesson = lesson_of([0.01, 0.99] * 20)
    assert lesson.bend(0.9) > NormalDist().cdf(1.28 * 1.7)
    assert lesson.bend(0.5) == pytest.approx(0.5)


def test_places() -> None:
    raw = [float(t) for t in range(1, 100)]
    assert place_of(50, raw) == pytest.approx(0.5)
    assert place_of(0, raw) == pytest.approx(0.005)
    assert place_of(1e9, raw) == pytest.approx(0.995)
    assert place_of(50, raw, ended=False) == pytest.approx(0.75)
    assert place_of(7, [7.0] * 99) == pytest.approx(0.995)
    assert place_of(7, []) == 0.5
