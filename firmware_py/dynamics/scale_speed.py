"""Scale speed: (mm/s) x ratio x 0.00223694 is scale miles an hour (rulebook section 11).

The ratios are the layout's (``firmware_py.layout.scales``: NMRA S-3.2, RP-3, NEM 010).
"""

from __future__ import annotations

from firmware_py.dynamics.sound import above_zero, not_below_zero

MM_PER_S_FOR_MPH = 447.04
"""Exact: a statute mile is 1 609 344 mm."""

KMH_FOR_MPH = 1.609344
MM_PER_INCH = 25.4
MM_PER_FOOT = 304.8
SCALE_MILE_FEET = 5280.0


def scale_mph(distance_mm: float, seconds: float, ratio: float) -> float:
    """Scale miles an hour of what took ``seconds`` for ``distance_mm`` at 1:``ratio``."""
    speed = above_zero("the distance", distance_mm) / above_zero("the time", seconds)
    return speed * above_zero("the scale's ratio", ratio) / MM_PER_S_FOR_MPH


def model_mm_per_s(mph: float, ratio: float) -> float:
    """Millimetres a second on the layout at ``mph`` scale miles an hour."""
    speed = not_below_zero("the speed", mph)
    return speed * MM_PER_S_FOR_MPH / above_zero("the scale's ratio", ratio)


def kmh(mph: float) -> float:
    """Kilometres an hour of miles an hour."""
    return mph * KMH_FOR_MPH


def mph_of_kmh(speed: float) -> float:
    """Miles an hour of kilometres an hour."""
    return speed / KMH_FOR_MPH


def seconds_over(distance_mm: float, mph: float, ratio: float) -> float:
    """How long something at ``mph`` takes for ``distance_mm``."""
    distance = above_zero("the distance", distance_mm)
    return distance / model_mm_per_s(above_zero("the speed", mph), ratio)


def scale_mile_feet(ratio: float) -> float:
    """How many feet of the layout a scale mile is."""
    return SCALE_MILE_FEET / above_zero("the scale's ratio", ratio)
