"""The arithmetic of pace (rulebook section 11): scale speed, and how long a brake test takes."""

from __future__ import annotations

MPH_FOR_MM_PER_S = 0.00223694
"""Miles an hour in one millimetre a second."""

CHARGE_MINUTES_FOR_CAR = 0.3065
"""To reach 60 psi from empty with a 90 psi source: 0.279 n minutes x -ln(1 - 60/90)."""

LEAKAGE_WAIT_SECONDS = 50
"""49 CFR 232.205(c)(1) asks for 45 to 60 seconds before the leakage is read."""


def scale_mph(distance_mm: float, time_us: int, ratio: float) -> float:
    """Scale miles an hour of something that took ``time_us`` (above 0) for ``distance_mm``."""
    return distance_mm / (time_us / 1_000_000) * ratio * MPH_FOR_MM_PER_S


def brake_test_seconds(cars: int, wait_ratio: float) -> float:
    """How long the brake test of a cut of ``cars`` takes by the real clock, in seconds."""
    return (cars * CHARGE_MINUTES_FOR_CAR * 60 + LEAKAGE_WAIT_SECONDS) / wait_ratio
