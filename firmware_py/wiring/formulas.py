"""The sums behind the figures: plain functions of volts, amperes, ohms, farads, seconds, metres."""

from __future__ import annotations

from dataclasses import dataclass
from math import ceil, floor, log, log10

E24: tuple[int, ...] = (10, 11, 12, 13, 15, 16, 18, 20, 22, 24, 27, 30)
E24 += (33, 36, 39, 43, 47, 51, 56, 62, 68, 75, 82, 91)
"""IEC 60063's series of 24 values in a decade."""

WATTS = (0.125, 0.25, 0.5, 1.0, 2.0, 3.0, 5.0)
"""The ratings that resistors are sold with."""

FUSES_A: tuple[float, ...] = (0.1, 0.125, 0.16, 0.2, 0.25, 0.315, 0.4, 0.5, 0.63, 0.8)
FUSES_A += (1.0, 1.25, 1.6, 2.0, 2.5, 3.15, 4.0, 5.0, 6.3, 8.0, 10.0)
"""The usual ratings of 5 x 20 mm fuses (IEC 60127, from memory)."""

MARGIN = 1.25
"""How much larger supplies and fuses are than the load (common practice)."""

COPPER = 0.0175
"""Ohm square millimetres a metre, at room temperature (from memory)."""

AMPERES_PER_MM2 = 6.0
"""What thin wire bears in closed benchwork (from memory, on the careful side)."""


@dataclass(frozen=True, slots=True)
class Resistor:
    """An LED's resistor: what the sum says, the value to buy, the amperes and watts it then has."""

    exact: float
    ohms: float
    amperes: float
    watts: float
    rating: float


def e24_up(ohms: float) -> float:
    """The smallest E24 value that is not below; a float's last digits don't count."""
    if not ohms > 0:
        raise ValueError(f"a resistance is above 0, not {ohms}")
    wanted = float(f"{ohms:.9g}")
    decade = floor(log10(wanted)) - 1
    steps = (*E24, 100)
    return next(
        value
        for value in (float(f"{step}e{decade}") for step in steps)
        if value >= wanted * (1 - 1e-9)
    )


def led_resistor(supply_v: float, forward_v: float, driver_v: float, amperes: float) -> Resistor:
    """R = (Vs - Vf - Vdriver) / I, rounded up in E24, rated at twice its heat."""
    left = supply_v - forward_v - driver_v
    ohms = e24_up(left / amperes)
    actual = left / ohms
    watts = actual * actual * ohms
    return Resistor(left / amperes, ohms, actual, watts, rating(watts))


def rating(watts: float) -> float:
    """The smallest rating sold that is at least twice the heat (common practice)."""
    return next((size for size in WATTS if size >= 2 * watts), WATTS[-1])


def rise_s(ohms: float, farads: float, supply_v: float, high_v: float) -> float:
    """Seconds until a capacitor that charges from 0 reads high: R C ln(V / (V - VT+))."""
    return ohms * farads * log(supply_v / (supply_v - high_v))


def fall_s(ohms: float, farads: float, supply_v: float, low_v: float) -> float:
    """Seconds until a capacitor that discharges from the supply reads low: R C ln(V / VT-)."""
    return ohms * farads * log(supply_v / low_v)


def lead_ohms(metres: float, square_mm: float) -> float:
    """A lead there and back."""
    return 2 * metres * COPPER / square_mm


def divided(supply_v: float, pull_ohms: float, to_ground_ohms: float) -> float:
    """The volts at a pin between a pull-up and a resistance to ground."""
    return supply_v * to_ground_ohms / (pull_ohms + to_ground_ohms)


def fuse_for(amperes: float) -> float:
    """The smallest usual fuse that carries the load with the margin."""
    return next((size for size in FUSES_A if size >= amperes * MARGIN - 1e-9), FUSES_A[-1])


def largest_fuse(square_mm: float) -> float:
    """The largest usual fuse that still protects that wire."""
    bears = square_mm * AMPERES_PER_MM2
    return max((size for size in FUSES_A if size <= bears + 1e-9), default=FUSES_A[0])


def branches(amperes: float, square_mm: float) -> tuple[int, float]:
    """How many fused branches a load needs so that each fuse protects its wire, and the fuse."""
    most = largest_fuse(square_mm)
    count = max(1, ceil(amperes * MARGIN / most - 1e-9))
    return count, min(most, fuse_for(amperes / count))
