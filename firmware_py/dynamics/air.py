"""Charging a brake pipe, and how long the published tests take.

The model: P(t) = 90 (1 - exp(-t / tau)), tau = 0.279 minutes for each car, set so that the rear
has 75 of 90 psi after half a minute a car (a US Navy text: about five minutes for ten cars).
It is monotone and simple; it is not how a real pipe charges along its length.
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum
from math import exp, log

from firmware_py.dynamics.sound import UnsoundError, above_zero, between, not_below_zero, whole

SOURCE_PSI = 90.0
TAU_MINUTES_FOR_CAR = 0.279
CLASS_ONE_PSI, CLASS_ONE_DROP_PSI = 75.0, 20.0
"""49 CFR 232.205(c)(1), 2015 edition."""

CONTINUITY_PSI, CONTINUITY_DROP_PSI = 60.0, 20.0
"""49 CFR 232.211, 2015 edition."""

TRANSFER_PSI, TRANSFER_DROP_PSI, TRANSFER_MILES = 60.0, 15.0, 20.0
"""49 CFR 232.215, 2015 edition."""

LEAK_PSI_A_MINUTE = 5.0
LEAK_MINUTES = 2.0
"""To set, to wait the 45 to 60 seconds, and to read the leakage (common practice)."""

LEAST_CHARGE_MINUTES = 2.0
MINUTES_FOR_CAR = 0.5
CAR_FEET, WALK_FEET_A_MINUTE = 53.0, 210.0
"""A car's length, and MUTCD's design walking speed of 3.5 ft/s."""

WAVE_FT_S = {"emergency": 920.0, "service": 500.0}
"""How fast a reduction runs along the pipe (from memory)."""


def tau_minutes(cars: int) -> float:
    """The charging's time constant for a cut of ``cars``."""
    return TAU_MINUTES_FOR_CAR * whole("the cars", cars, 1, 300)


def gauge_psi(minutes: float, cars: int, clock_ratio: float = 1.0) -> float:
    """The rear gauge after so many minutes by the real clock, of a layout ``clock_ratio`` fast."""
    fast = not_below_zero("the time", minutes) * above_zero("the clock ratio", clock_ratio)
    return SOURCE_PSI * (1 - exp(-fast / tau_minutes(cars)))


def minutes_to(psi: float, cars: int, clock_ratio: float = 1.0) -> float:
    """Real minutes until the rear gauge shows ``psi``, from empty."""
    if not between("the pressure", psi, 0, SOURCE_PSI) < SOURCE_PSI:
        raise UnsoundError(f"the model never quite reaches its source's {SOURCE_PSI:g} psi")
    part = -log(1 - psi / SOURCE_PSI)
    return tau_minutes(cars) * part / above_zero("the clock ratio", clock_ratio)


def wave_seconds(cars: int, kind: str) -> float:
    """How long a reduction takes to the rear of the cut."""
    return whole("the cars", cars, 1, 300) * CAR_FEET / WAVE_FT_S[kind]


def class_one_minutes(cars: int) -> float:
    """Charge (at least two minutes), leakage, a walk for each side set and one for release."""
    count = whole("the cars", cars, 1, 300)
    charge = max(count * MINUTES_FOR_CAR, LEAST_CHARGE_MINUTES)
    return charge + LEAK_MINUTES + 3 * count * CAR_FEET / WALK_FEET_A_MINUTE


class Work(StrEnum):
    """What was done with cars before the train goes on."""

    MADE_UP = "made-up"
    PICKED_UP = "picked-up"
    SET_OUT = "set-out"


@dataclass(frozen=True, slots=True)
class AirTest:
    """A published test: what it asks for, and the minutes it takes by the layout's clock."""

    name: str
    source: str
    charge_psi: float
    drop_psi: float
    asks: str
    charge_minutes: float
    walk_minutes: float

    @property
    def minutes(self) -> float:
        """All of it, by the layout's clock."""
        return self.charge_minutes + LEAK_MINUTES + self.walk_minutes


def air_test(miles: float, cars: int, work: Work) -> AirTest:
    """The test that the 2015 text asks of ``cars`` worked, on a run of ``miles`` (real ones)."""
    way = not_below_zero("the distance", miles)
    walk = whole("the cars", cars, 1, 300) * CAR_FEET / WALK_FEET_A_MINUTE
    if work is Work.SET_OUT:
        charge = minutes_to(CONTINUITY_PSI, cars)
        asks = "the rear car's brakes apply on the reduction and release"
        return AirTest(
            "Class III", "49 CFR 232.211", CONTINUITY_PSI, CONTINUITY_DROP_PSI, asks, charge, walk
        )
    if way <= TRANSFER_MILES:
        charge = minutes_to(TRANSFER_PSI, cars)
        asks = "every car's brakes apply on the reduction and hold"
        return AirTest(
            "Transfer train",
            "49 CFR 232.215",
            TRANSFER_PSI,
            TRANSFER_DROP_PSI,
            asks,
            charge,
            2 * walk,
        )
    charge = max(minutes_to(CLASS_ONE_PSI, cars), LEAST_CHARGE_MINUTES)
    name, source, asks = "Class I", "49 CFR 232.205", "every car's brakes apply, hold and release"
    if work is Work.PICKED_UP:
        name, source = "Class II", "49 CFR 232.209"
        asks = "the added cars' and the rear car's brakes apply, hold and release"
    return AirTest(name, source, CLASS_ONE_PSI, CLASS_ONE_DROP_PSI, asks, charge, 3 * walk)
