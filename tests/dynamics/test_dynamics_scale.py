"""Scale speed against dynamics table A (ratios of S-3.2, RP-3 and NEM 010), and against pint."""

from __future__ import annotations

import pint
import pytest

from firmware_py.core.pace import MPH_FOR_MM_PER_S
from firmware_py.dynamics.scale_speed import (
    MM_PER_FOOT,
    MM_PER_INCH,
    MM_PER_S_FOR_MPH,
    kmh,
    model_mm_per_s,
    mph_of_kmh,
    scale_mile_feet,
    scale_mph,
    seconds_over,
)
from firmware_py.layout.scales import RATIOS

UNITS = pint.UnitRegistry()

# smph per in/s; 10 smph in in/s and mm/s; 12 in at 10 smph, s; 4 smph in mm/s; scale mile, ft
TABLE = {
    220: (12.5, 0.800, 20.3, 15.00, 8.1, 24.0),
    160: (9.0909, 1.100, 27.9, 10.91, 11.2, 33.0),
    120: (6.8182, 1.467, 37.3, 8.18, 14.9, 44.0),
    87.1: (4.9489, 2.021, 51.3, 5.94, 20.5, 60.6),
    64: (3.6364, 2.750, 69.8, 4.36, 27.9, 82.5),
    48: (2.7273, 3.667, 93.1, 3.27, 37.3, 110.0),
    45: (2.5568, 3.911, 99.3, 3.07, 39.7, 117.3),
    32: (1.8182, 5.500, 139.7, 2.18, 55.9, 165.0),
    22.5: (1.2784, 7.822, 198.7, 1.53, 79.5, 234.7),
}


@pytest.mark.parametrize("ratio", TABLE)
def test_table_a(ratio: float) -> None:
    per_inch, ten_in, ten_mm, foot_s, four_mm, mile = TABLE[ratio]
    assert scale_mph(MM_PER_INCH, 1, ratio) == pytest.approx(per_inch, abs=5e-5)
    assert model_mm_per_s(10, ratio) / MM_PER_INCH == pytest.approx(ten_in, abs=5e-4)
    assert model_mm_per_s(10, ratio) == pytest.approx(ten_mm, abs=0.051)
    assert seconds_over(MM_PER_FOOT, 10, ratio) == pytest.approx(foot_s, abs=5.1e-3)
    assert model_mm_per_s(4, ratio) == pytest.approx(four_mm, abs=0.051)
    assert scale_mile_feet(ratio) == pytest.approx(mile, abs=0.051)


# Section A's vectors: three feet in ten seconds.
VECTORS = {
    87.1: 17.8159,
    87: 17.7955,
    160: 32.7273,
    220: 45.0,
    120: 24.5455,
    64: 13.0909,
    48: 9.8182,
}


@pytest.mark.parametrize("ratio", VECTORS)
def test_three_feet_in_ten_seconds(ratio: float) -> None:
    assert scale_mph(3 * MM_PER_FOOT, 10, ratio) == pytest.approx(VECTORS[ratio], abs=5e-5)


def test_a_metre_in_eight_seconds_in_ho() -> None:
    """Section A: 24.3546 smph, 39.195 scale km/h."""
    mph = scale_mph(1000, 8, 87.1)
    assert mph == pytest.approx(24.3546, abs=5e-5)
    assert kmh(mph) == pytest.approx(39.195, abs=5e-4)
    assert mph_of_kmh(kmh(mph)) == pytest.approx(mph)


@pytest.mark.parametrize("ratio", sorted(set(RATIOS.values())))
def test_pint_agrees(ratio: float) -> None:
    model = 123.4 * UNITS.millimeter / UNITS.second
    assert scale_mph(123.4, 1, ratio) == pytest.approx(
        (model * ratio).to(UNITS.mile / UNITS.hour).magnitude, rel=1e-12
    )
    assert kmh(1) == pytest.approx((1 * UNITS.mph).to(UNITS.kph).magnitude, rel=1e-12)


def test_the_core_s_constant_is_the_same_number() -> None:
    """Rulebook section 11 writes it with six digits."""
    assert pytest.approx(1 / MM_PER_S_FOR_MPH, rel=2e-6) == MPH_FOR_MM_PER_S
