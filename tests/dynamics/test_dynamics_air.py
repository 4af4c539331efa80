"""Charging and tests against dynamics section D, and the gauges of the crew's page."""

from __future__ import annotations

import pytest

from firmware_py.core.pace import CHARGE_MINUTES_FOR_CAR
from firmware_py.dynamics import air
from web.crew import gauges

# cars: minutes to 60, 75 and 85 psi; emergency and service wave, seconds
TABLE = {
    5: (1.53, 2.50, 4.03, 0.29, 0.53),
    10: (3.07, 5.00, 8.07, 0.58, 1.06),
    20: (6.13, 10.00, 16.13, 1.15, 2.12),
    50: (15.33, 25.00, 40.33, 2.88, 5.30),
}


@pytest.mark.parametrize("cars", TABLE)
def test_table_d(cars: int) -> None:
    *minutes, emergency, service = TABLE[cars]
    for psi, wanted in zip((60, 75, 85), minutes, strict=True):
        assert air.minutes_to(psi, cars) == pytest.approx(wanted, rel=2e-3, abs=6e-3)
    assert air.wave_seconds(cars, "emergency") == pytest.approx(emergency, abs=6e-3)
    assert air.wave_seconds(cars, "service") == pytest.approx(service, abs=6e-3)


@pytest.mark.parametrize(("cars", "minutes"), [(3, 6.3), (5, 8.3), (10, 14.6), (20, 27.1)])
def test_class_one_time(cars: int, minutes: float) -> None:
    """Section D: charge, two minutes of leakage, three walks along the cut."""
    assert air.class_one_minutes(cars) == pytest.approx(minutes, abs=0.06)
    assert air.air_test(30, cars, air.Work.MADE_UP).minutes == pytest.approx(minutes, abs=0.06)


def test_the_gauge_rises_to_what_the_time_says_and_is_hurried_by_the_clock() -> None:
    for psi in (1, 30, 60, 75, 89.9):
        assert air.gauge_psi(air.minutes_to(psi, 7), 7) == pytest.approx(psi)
        assert air.gauge_psi(air.minutes_to(psi, 7, 6), 7, 6) == pytest.approx(psi)
    assert air.gauge_psi(0, 7) == 0
    rising = [air.gauge_psi(minute / 4, 7) for minute in range(60)]
    assert rising == sorted(rising)


def test_rulebook_constants_are_the_model_s() -> None:
    """Section 11: 0.3065 minutes a car to 60 psi with tau 0.279 n."""
    assert air.minutes_to(60, 1) == pytest.approx(CHARGE_MINUTES_FOR_CAR, abs=5e-5)
    assert (gauges.SOURCE_PSI, gauges.ENOUGH_PSI) == (air.SOURCE_PSI, air.TRANSFER_PSI)
    assert gauges.TAU_MINUTES_FOR_CAR == air.TAU_MINUTES_FOR_CAR


@pytest.mark.parametrize(
    ("miles", "work", "name", "psi", "drop"),
    [
        (20, air.Work.MADE_UP, "Transfer train", 60, 15),
        (20.1, air.Work.MADE_UP, "Class I", 75, 20),
        (20.1, air.Work.PICKED_UP, "Class II", 75, 20),
        (5, air.Work.PICKED_UP, "Transfer train", 60, 15),
        (200, air.Work.SET_OUT, "Class III", 60, 20),
    ],
)
def test_which_test_the_published_text_asks_for(
    miles: float, work: air.Work, name: str, psi: float, drop: float
) -> None:
    """49 CFR 232.205, .209, .211, .215 (2015), rows R1, R4, R5, R6 of railroad-rules."""
    found = air.air_test(miles, 4, work)
    assert (found.name, found.charge_psi, found.drop_psi) == (name, psi, drop)
