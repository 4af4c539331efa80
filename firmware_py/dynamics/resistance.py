"""The real thing's train resistance, to compare a model's with: pounds a ton of 2000 lb.

Davis: the original with its air term for ``AREA_FT2`` of front, and the modified form (AREA
committee 16; its 0.6, 20 and 0.01 from memory). Grade is 20 lb a ton for each per cent.
"""

from __future__ import annotations

from firmware_py.dynamics.sound import above_zero, not_below_zero, whole

AREA_FT2 = 85.0
GRADE_LB_A_TON = 20.0
"""For each per cent of grade."""

LOADED_TONS, EMPTY_TONS, AXLES = 131.5, 30.0, 4
CONVENTIONAL = 0.07
"""K of the modified form for ordinary cars."""


def davis(tons: float, axles: int, mph: float, area_ft2: float = AREA_FT2) -> float:
    """The original: 1.3 + 29/w + 0.045 V + 0.0005 a V^2 / (w n)."""
    speed, weight = not_below_zero("the speed", mph), above_zero("the weight", tons)
    each = weight / whole("axles", axles, 1, 100)
    return 1.3 + 29 / each + 0.045 * speed + 0.0005 * area_ft2 * speed**2 / weight


def modified_davis(tons: float, axles: int, mph: float, k: float = CONVENTIONAL) -> float:
    """The modified form: 0.6 + 20/w + 0.01 V + K V^2 / (w n)."""
    speed, weight = not_below_zero("the speed", mph), above_zero("the weight", tons)
    each = weight / whole("axles", axles, 1, 100)
    return 0.6 + 20 / each + 0.01 * speed + k * speed**2 / weight


def grade_equivalent_percent(lb_a_ton: float) -> float:
    """The grade that pulls as hard as the resistance holds."""
    return not_below_zero("the resistance", lb_a_ton) / GRADE_LB_A_TON
