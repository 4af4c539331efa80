"""Cars on grades against dynamics section C, and against scipy's solve_ivp."""

from __future__ import annotations

from math import atan, cos, inf, sin, sqrt

import pint
import pytest
from scipy.integrate import solve_ivp

from firmware_py.dynamics.resistance import (
    davis,
    grade_equivalent_percent,
    modified_davis,
)
from firmware_py.dynamics.rolling import (
    G_MM,
    from_ramp,
    from_steady_grade,
    from_two_speeds,
    roll_out_mm,
    run_away,
    starts_at_percent,
)
from firmware_py.dynamics.scale_speed import (
    MM_PER_FOOT,
    MM_PER_INCH,
    model_mm_per_s,
    scale_mph,
)
from firmware_py.dynamics.securing import Siding, standing
from firmware_py.dynamics.sound import UnsoundError

FIVE_LB = 5 / 2000


@pytest.mark.parametrize(
    ("feet", "mph", "seconds"), [(1000, 14.7583, 92.398), (5280, 33.9121, 212.314)]
)
def test_the_real_thing_on_one_per_cent(feet: float, mph: float, seconds: float) -> None:
    """Section C: 1 %, 5 lb/ton, rho 0.03."""
    away = run_away(1, FIVE_LB, feet * MM_PER_FOOT, turning=0.03)
    assert scale_mph(away.mm_per_s, 1, 1) == pytest.approx(mph, abs=2e-4)
    assert away.seconds == pytest.approx(seconds, abs=2e-3)


@pytest.mark.parametrize(
    ("r", "inches_s", "smph", "seconds"),
    [(0.015, 11.7883, 58.339, 6.1078), (0.010, 16.6712, 82.503, 4.319)],
)
def test_an_ho_car_on_two_per_cent(r: float, inches_s: float, smph: float, seconds: float) -> None:
    """Section C: 36 in, rho 0."""
    away = run_away(2, r, 36 * MM_PER_INCH)
    assert away.mm_per_s / MM_PER_INCH == pytest.approx(inches_s, abs=2e-4)
    assert scale_mph(away.mm_per_s, 1, 87.1) == pytest.approx(smph, abs=2e-3)
    assert away.seconds == pytest.approx(seconds, abs=6e-4)


def test_one_that_does_not_start() -> None:
    """Section C: r = 0.020 on 2 %."""
    away = run_away(2, 0.020, 36 * MM_PER_INCH)
    assert away.stops
    assert away.rolled_mm == 0


def test_shrinking_gains_the_root_of_the_ratio() -> None:
    """Section C's Froude check: the 1000 ft case over 137.77 in ends at 137.736 smph."""
    away = run_away(1, FIVE_LB, 1000 * MM_PER_FOOT / 87.1, turning=0.03)
    assert scale_mph(away.mm_per_s, 1, 87.1) == pytest.approx(137.736, abs=2e-3)
    assert scale_mph(away.mm_per_s, 1, 87.1) == pytest.approx(14.7583 * sqrt(87.1), rel=1e-5)


def _solved(grade: float, r: float, way: float, nudge: float) -> float:
    """Speed at the end of the way, or 0 where it came to rest, by solve_ivp."""
    pull = G_MM * (sin(atan(grade / 100)) - r * cos(atan(grade / 100)))

    def there(_: float, state: list[float]) -> float:
        return state[0] - way

    def at_rest(_: float, state: list[float]) -> float:
        return state[1] + 1e-9

    there.terminal = at_rest.terminal = True  # type: ignore[attr-defined]
    at_rest.direction = -1  # type: ignore[attr-defined]
    solved = solve_ivp(
        lambda _, state: [state[1], pull], (0, 500), [0, nudge],
        events=(there, at_rest), rtol=1e-10, atol=1e-9,
    )  # fmt: skip
    return float(solved.y[1][-1])


@pytest.mark.parametrize("nudge", [0.0, 20.5, 60.0])
@pytest.mark.parametrize(
    ("grade", "r"), [(2, 0.015), (1.2, 0.004), (1, 0.012), (0.3, 0.02), (4, 0)]
)
def test_an_ode_solver_agrees(grade: float, r: float, nudge: float) -> None:
    if grade / 100 <= r and nudge == 0:
        return
    away = run_away(grade, r, 600, nudge_mm_s=nudge)
    assert away.mm_per_s == pytest.approx(
        max(0.0, _solved(grade, r, 600, nudge)), rel=1e-5, abs=1e-3
    )


@pytest.mark.parametrize(("lb", "feet"), [(3, 2295), (5, 1377), (15, 459)])
def test_roll_out_of_the_real_thing(lb: float, feet: float) -> None:
    """Section C, 10 mph on the level, rho 0.03."""
    assert roll_out_mm(4470.4, lb / 2000, 0.03) / MM_PER_FOOT == pytest.approx(feet, abs=0.6)


@pytest.mark.parametrize(
    ("smph", "r", "inches"),
    [(10, 0.005, 1.06), (10, 0.010, 0.53), (10, 0.020, 0.26), (4, 0.015, 0.056)],
)
def test_roll_out_in_ho(smph: float, r: float, inches: float) -> None:
    """Section C: a kicked model stops almost at once on the level."""
    assert roll_out_mm(model_mm_per_s(smph, 87.1), r) / MM_PER_INCH == pytest.approx(
        inches, abs=6e-3
    )


def test_without_resistance_it_never_stops() -> None:
    assert roll_out_mm(10, 0) == inf
    assert roll_out_mm(0, 0) == 0


def test_three_ways_to_measure() -> None:
    """Section C: r = tan; 0.36 in over 36 in is 0.010; 10 and 6 in/s 24 in apart."""
    assert from_steady_grade(12, 1000) == pytest.approx(0.012)
    assert from_ramp(0.36 * MM_PER_INCH, 36 * MM_PER_INCH) == pytest.approx(0.010)
    assert from_two_speeds(254, 6 * MM_PER_INCH, 24 * MM_PER_INCH) == pytest.approx(
        3.453e-3, abs=5e-7
    )


# Section C: (tons, mph): original, modified; four axles, 85 square feet.
DAVIS = {
    (131.5, 0): (2.18, 1.21), (131.5, 10): (2.66, 1.36), (131.5, 40): (4.50, 2.46),
    (30, 0): (5.17, 3.27), (30, 10): (5.76, 3.60), (30, 40): (9.23, 7.40),
}  # fmt: skip


@pytest.mark.parametrize(("tons", "mph"), DAVIS)
def test_davis(tons: float, mph: float) -> None:
    original, modified = DAVIS[tons, mph]
    assert davis(tons, 4, mph) == pytest.approx(original, abs=6e-3)
    assert modified_davis(tons, 4, mph) == pytest.approx(modified, abs=6e-3)


@pytest.mark.parametrize(("lb", "percent"), [(5, 0.25), (8, 0.40), (15, 0.75), (25, 1.25)])
def test_released_cars_start_by_themselves(lb: float, percent: float) -> None:
    """Section C; 20 lb a ton for each per cent is what grade means, whatever the ton."""
    assert grade_equivalent_percent(lb) == pytest.approx(percent)
    assert starts_at_percent(lb / 2000) == pytest.approx(percent)


def test_g_in_pint_s_units() -> None:
    units = pint.UnitRegistry()
    assert (1 * units.standard_gravity).to("mm/s**2").magnitude == pytest.approx(G_MM)


@pytest.mark.parametrize("r", [None, 0.003, 0.012, 0.05])
def test_a_one_per_cent_siding_needs_chocks(r: float | None) -> None:
    """Common practice, no source; whatever a car was measured to resist."""
    found = standing(Siding(1.0, 900, 87.1, 0.5, cuts=2), r)
    assert found.needs_chocks
    assert found.chocks == 2


def test_an_easy_rolling_car_needs_one_on_less() -> None:
    assert standing(Siding(0.4, 900, 87.1, 0.5), 0.003).needs_chocks
    held = standing(Siding(0.4, 900, 87.1, 0.5), 0.012)
    assert not held.needs_chocks
    assert held.chocks == 0
    assert held.nudged is not None
    assert held.nudged.stops
    assert held.nudged.rolled_mm < 10


def test_unmeasured_is_judged_by_the_layout_s_limit_and_says_so() -> None:
    found = standing(Siding(0.2, 900, 87.1, 0.5), None)
    assert not found.needs_chocks
    assert "no car has been measured" in found.why


def test_a_ramp_longer_than_its_roll_is_refused() -> None:
    with pytest.raises(UnsoundError, match="longer than the ramp is high"):
        from_ramp(100, 50)
    with pytest.raises(UnsoundError, match="second speed must be below"):
        from_two_speeds(100, 100, 500)
