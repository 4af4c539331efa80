"""Momentum against dynamics section B (NMRA S-9.2.2, July 2012) and scipy's ODE solver."""

from __future__ import annotations

from itertools import pairwise

import pytest
from scipy.integrate import solve_ivp

from firmware_py.dynamics.drive import Drive, table_level
from firmware_py.dynamics.momentum import (
    SECONDS_FOR_CV,
    adjusted,
    even_distance,
    exact_cv4,
    seconds_a_step,
    seconds_to_rest,
    staircase,
)
from firmware_py.dynamics.scale_speed import MM_PER_FOOT, MM_PER_INCH, model_mm_per_s
from firmware_py.dynamics.sound import UnsoundError
from firmware_py.dynamics.stopping import braking, correction_of, distance_mm

# CV4: s/step at 28, s/step at 126, full speed to rest
TABLE = {
    1: (0.032, 0.007111, 0.896),
    10: (0.320, 0.071111, 8.96),
    20: (0.640, 0.142222, 17.92),
    50: (1.600, 0.355556, 44.80),
    100: (3.200, 0.711111, 89.60),
    255: (8.160, 1.813333, 228.48),
}


@pytest.mark.parametrize("cv", TABLE)
def test_table_b(cv: int) -> None:
    at_28, at_126, full = TABLE[cv]
    assert seconds_a_step(cv, 28) == pytest.approx(at_28, abs=5e-7)
    assert seconds_a_step(cv, 126) == pytest.approx(at_126, abs=5e-7)
    assert seconds_to_rest(cv) == pytest.approx(full, abs=5e-4)
    assert 126 * seconds_a_step(cv, 128) == pytest.approx(SECONDS_FOR_CV * cv * 126 / 128)


def test_the_standard_s_own_example() -> None:
    """S-9.2.2, CV3: "CV3 = 2, 28 steps" is 0.064 s a step."""
    assert seconds_a_step(2, 28) == pytest.approx(0.064)


def test_adjustment_adds_or_subtracts_by_its_sign_bit_and_clips() -> None:
    """Section B: CV4 = 20 with CV24 = 10 is 26.88 s, with 138 it is 8.96 s."""
    assert seconds_to_rest(adjusted(20, 10)) == pytest.approx(26.88)
    assert seconds_to_rest(adjusted(20, 138)) == pytest.approx(8.96)
    assert adjusted(250, 100) == 255
    assert adjusted(5, 128 + 100) == 0


def test_vector_in_ho() -> None:
    """Section B: top 40 smph = 8.08266 in/s, CV4 20: 72.42 in; step 7: 4.526 in."""
    top = model_mm_per_s(40, 87.1)
    assert top / MM_PER_INCH == pytest.approx(8.08266, abs=5e-6)
    assert even_distance(top, seconds_to_rest(20)) == pytest.approx(1839.5, abs=0.06)
    assert even_distance(top, seconds_to_rest(20)) * 87.1 / MM_PER_FOOT == pytest.approx(
        525.7, abs=0.06
    )
    quarter = seconds_to_rest(20, 7 / 28)
    assert quarter == pytest.approx(4.48)
    assert even_distance(top / 4, quarter) / MM_PER_INCH == pytest.approx(4.526, abs=5e-4)
    assert 40 / seconds_to_rest(20) == pytest.approx(2.232, abs=5e-4)


def test_inverse_vector() -> None:
    """Section B: to stop in 12 in from 10 smph on that engine CV4 = 53; in 6 in, 26.5."""
    top = model_mm_per_s(40, 87.1)
    assert round(exact_cv4(top, 12 * MM_PER_INCH, 0.25)) == 53
    assert exact_cv4(top, 6 * MM_PER_INCH, 0.25) == pytest.approx(26.5, abs=0.05)
    assert seconds_to_rest(53, 0.25) == pytest.approx(11.88, abs=0.01)


@pytest.mark.parametrize(("steps", "part"), [(28, 0.0357), (126, 0.0079)])
def test_staircase(steps: int, part: float) -> None:
    """Section B: plus or minus 3.57 % at 28 steps, 0.79 % at 126."""
    assert staircase(1, steps, held_first=True) == pytest.approx(1 + part, abs=5e-5)
    assert staircase(1, steps, held_first=False) == pytest.approx(1 - part, abs=5e-5)


@pytest.mark.parametrize("part", [1.0, 0.5, 0.25])
@pytest.mark.parametrize("cv", [5, 20, 53])
def test_an_ode_solver_stops_in_the_same_place(cv: int, part: float) -> None:
    """The second derivative of x is -top / (0.896 CV4) until v = 0."""
    top = model_mm_per_s(40, 87.1)

    def at_rest(_: float, state: list[float]) -> float:
        return state[1]

    at_rest.terminal = True  # type: ignore[attr-defined]
    solved = solve_ivp(
        lambda _, state: [state[1], -top / seconds_to_rest(cv)],
        (0, 1000), [0, top * part], events=at_rest, rtol=1e-10, atol=1e-10,
    )  # fmt: skip
    assert even_distance(top * part, seconds_to_rest(cv, part)) == pytest.approx(solved.y[0][-1])
    even = [top * step / 28 for step in range(1, 29)]
    assert distance_mm(even, cv, round(28 * part)) == pytest.approx(solved.y[0][-1], rel=1e-9)


def test_half_speed_is_a_quarter_of_the_distance_where_speed_is_even() -> None:
    """Section B: d goes with the square of the step."""
    found = braking([step * 2.0 for step in range(1, 29)], 700)
    assert found.from_half_mm == pytest.approx(found.from_full_mm / 4)


def test_drive_levels_by_the_standard() -> None:
    """CV2 at step 1, CV6 at the middle step, CV5 at the top; 0 and 1 are not used."""
    drive = Drive(28, start=10, middle=80, top=200)
    assert (drive.level(0), drive.level(1), drive.level(14), drive.level(28)) == (0, 10, 80, 200)
    assert Drive(28, start=0, middle=1, top=1).level(28) == 255
    assert Drive(28).level(7) == pytest.approx(255 / 4)
    assert Drive(126, start=4, top=254).level(126) == 254
    levels = [Drive(14, 3, 90, 150).level(step) for step in range(15)]
    assert all(one <= two for one, two in pairwise(levels))


def test_a_table_is_straight_between_its_entries() -> None:
    table = tuple(range(9, 9 * 29, 9))
    assert [table_level(table, step) for step in (1, 14, 28)] == [9, 126, 252]
    assert table_level(table, 63, 126) == pytest.approx(126)
    assert table_level(table, 0) == 0


def test_a_measured_stop_far_from_what_was_foretold_is_doubted() -> None:
    even = [step * 2.0 for step in range(1, 29)]
    with pytest.raises(UnsoundError, match="check the distance's unit"):
        correction_of(even, 10, 28, 25_000)
    with pytest.raises(UnsoundError, match="at which it moves"):
        correction_of(even, 0, 28, 700)


@pytest.mark.parametrize("ran", [0.6, 1.0, 1.25, 2.0])
@pytest.mark.parametrize("entry", [None, 40.0])
def test_a_correction_foretells_the_stop_that_it_came_from(ran: float, entry: float | None) -> None:
    even = [step * 2.0 for step in range(1, 29)]
    expected = distance_mm(even, 10, 28) * (1 if entry is None else entry / even[-1])
    found = correction_of(even, 10, 28, expected * ran, entry)
    assert distance_mm(even, 10, 28, found) == pytest.approx(distance_mm(even, 10, 28) * ran)
