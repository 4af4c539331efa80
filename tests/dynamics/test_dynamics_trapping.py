"""Speed traps: dynamics table I, and what is stated against what was true, on simulated pins."""

from __future__ import annotations

from random import Random
from statistics import fmean, pstdev

import pytest

from firmware_py.dynamics.scale_speed import MM_PER_INCH, model_mm_per_s, scale_mph
from firmware_py.dynamics.sound import UnsoundError
from firmware_py.dynamics.trapping import (
    SPACING_MM,
    TIMING_S,
    corrected_spacing,
    doubt,
    reading,
    reading_of_speed,
)
from tests.dynamics.passing import FIRST, SCALES, SECOND, Line, passes

# (smph, inches): seconds; jitter worst and rms, 1/16 in and 1 mm of spacing, worst of both; in %
TABLE = {
    (10, 12): (5.9386, 0.168, 0.069, 0.521, 0.328, 0.689),
    (4, 12): (14.847, 0.067, 0.028, 0.521, 0.328, 0.588),
    (20, 12): (2.9693, 0.337, 0.138, 0.521, 0.328, 0.858),
    (60, 12): (0.9898, 1.010, 0.413, 0.521, 0.328, 1.531),
    (10, 2): (0.9898, 1.010, 0.413, 3.125, 1.969, 4.135),
}


@pytest.mark.parametrize(("mph", "inches"), TABLE)
def test_table_i(mph: float, inches: float) -> None:
    seconds, jitter, rms, sixteenth, millimetre, both = TABLE[mph, inches]
    length = inches * MM_PER_INCH
    assert length / model_mm_per_s(mph, 87.1) == pytest.approx(seconds, rel=5e-5)
    assert 100 * doubt(length, seconds, 0).worst == pytest.approx(jitter, abs=6e-4)
    assert 100 * doubt(length, seconds, 0).sigma == pytest.approx(rms, abs=6e-4)
    assert 100 * doubt(length, seconds, SPACING_MM, 0).worst == pytest.approx(sixteenth, abs=6e-4)
    assert 100 * doubt(length, seconds, 1, 0).worst == pytest.approx(millimetre, abs=6e-4)
    assert 100 * doubt(length, seconds).worst == pytest.approx(both, abs=6e-4)


def test_monte_carlo_of_section_i() -> None:
    """10 smph over 12 in: 0.309 % drawn, 0.3085 % by the closed form."""
    dice = Random(7)
    drawn = []
    for _ in range(20_000):
        true_mm = 12 * MM_PER_INCH + dice.uniform(-SPACING_MM, SPACING_MM)
        jitter = dice.uniform(-TIMING_S, TIMING_S) - dice.uniform(-TIMING_S, TIMING_S)
        seconds = true_mm / model_mm_per_s(10, 87.1) + jitter
        drawn.append(scale_mph(12 * MM_PER_INCH, seconds, 87.1))
    closed = doubt(12 * MM_PER_INCH, 5.9386).sigma
    assert closed == pytest.approx(0.003085, abs=2e-6)
    assert pstdev(drawn) / fmean(drawn) == pytest.approx(closed, rel=0.02)


@pytest.mark.parametrize("scale", SCALES)
def test_the_truth_is_within_what_is_stated(scale: str) -> None:
    """In 95 % of the passes; ``python -m tests.dynamics`` makes 10,000 for each scale."""
    held = [abs(said - true) <= doubt for true, said, doubt in passes(scale, 500, 1)]
    assert sum(held) >= 0.95 * len(held)


def test_what_is_stated_is_not_just_wide() -> None:
    """Two thirds of it would not do."""
    every = [one for scale in SCALES for one in passes(scale, 100, 2)]
    assert sum(abs(said - true) <= doubt / 2 for true, said, doubt in every) < 0.9 * len(every)


def test_a_stop_within_the_trap_is_no_slow_speed() -> None:
    """Section I: at -1 smph/s from 10, an engine stops after 10.10 in of 12."""
    line = Line("HO", 305.0)
    line.edge(1, FIRST, True)
    line.edge(1 + 61, SECOND, True)
    line.wait(80)
    assert line.speeds == []
    line.close()


def test_one_that_may_have_paused_is_told_apart() -> None:
    assert reading(305, 31, 87.1).may_have_stopped
    assert not reading_of_speed(305, 10, 87.1).may_have_stopped


def test_calibration_finds_the_true_distance() -> None:
    """A trap that is 3 mm longer than the layout says, runs of one speed."""
    shown = [scale_mph(305, 308 / model_mm_per_s(mph, 87.1), 87.1) for mph in (20, 20, 20)]
    found = corrected_spacing(305, shown, 20)
    assert found.distance_mm == pytest.approx(308)
    assert found.sigma_mm == pytest.approx(0, abs=1e-9)
    assert corrected_spacing(305, shown[:1], 20).sigma_mm is None


def test_a_calibration_that_can_t_be_is_refused() -> None:
    with pytest.raises(UnsoundError, match="at least one pass"):
        corrected_spacing(305, [], 20)
    with pytest.raises(UnsoundError, match="the same train"):
        corrected_spacing(305, [5], 20)
