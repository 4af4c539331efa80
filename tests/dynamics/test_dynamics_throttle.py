"""Throttle tables run back through motors that the fit knows nothing of."""

from __future__ import annotations

import pytest

from firmware_py.dynamics.advising import Question, advise
from firmware_py.dynamics.drive import Drive
from firmware_py.dynamics.throttle import Run, fit
from tests.dynamics.motor import Motor
from tests.dynamics.tuning import tuned

MOTORS = 500
PART = 100


@pytest.mark.parametrize("first", range(0, MOTORS, PART))
def test_random_motors_do_what_was_wanted(first: int) -> None:
    """Top speed within 3 % each way, the stop within 10 % after one measured correction."""
    every = {seed: tuned(seed) for seed in range(first, first + PART)}
    assert [(seed, one) for seed, one in every.items() if not one.good] == []


def test_the_correction_is_what_does_it() -> None:
    """Without it the makers' own timings and flywheels show."""
    every = [tuned(seed) for seed in range(40)]
    assert sum(abs(one.stop_before) > 0.1 for one in every) > 10


def exact_runs(motor: Motor, drive: Drive) -> tuple[Run, ...]:
    return tuple(
        Run(step, forward, motor.mph(drive.level(step), forward=forward))
        for step in range(1, drive.steps + 1)
        for forward in (True, False)
    )


PLAIN = Motor(
    dead=40, bend=0, most_mph=80, reverse_part=0.9, noise=0, lag_s=0.1, timing=1, holds_first=True
)


@pytest.mark.parametrize("drive", [Drive(), Drive(28, 20, 90, 200), Drive(14), Drive(126, 5)])
def test_the_dead_band_and_the_line_are_found(drive: Drive) -> None:
    """Whatever settings were in force while it was measured."""
    curve = fit(exact_runs(PLAIN, drive), drive, forward=True)
    assert curve.starts_at == pytest.approx(40, abs=6)
    assert curve.mph(120) == pytest.approx(PLAIN.mph(120), rel=0.01)
    assert curve.level(20) == pytest.approx(40 + 20 / 80 * 215, abs=0.5)


def test_everyday_speed_is_half_of_what_it_can_do() -> None:
    """Common practice; what it can do is what it does both ways."""
    advice = advise(Question(87.1, exact_runs(PLAIN, Drive()), stop_mm=700))
    assert advice.everyday_mph == pytest.approx(36, rel=0.01)
    assert advice.top_mph == advice.everyday_mph
    assert advice.table_mph[13] == pytest.approx(18, rel=0.04)
    assert advice.settings.reverse_trim > 128
    assert advice.again


def test_getting_away_has_its_own_distance() -> None:
    runs = exact_runs(PLAIN, Drive())
    slow = advise(Question(87.1, runs, stop_mm=700, away_mm=2100))
    assert slow.away.cv == pytest.approx(3 * slow.braking.cv, abs=2)
    assert advise(Question(87.1, runs, stop_mm=700)).away.cv == slow.braking.cv
