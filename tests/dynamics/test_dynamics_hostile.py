"""Whatever number comes in: a plain refusal or an ordinary number, never a NaN."""

from __future__ import annotations

from collections.abc import Callable
from math import isfinite, isnan

import pytest
from hypothesis import given
from hypothesis import strategies as st

from firmware_py.dynamics import air, momentum, rolling, scale_speed, securing, stopping, trapping
from firmware_py.dynamics.advising import Question, advise
from firmware_py.dynamics.drive import Drive
from firmware_py.dynamics.sound import UnsoundError
from firmware_py.dynamics.throttle import Run

ANY = st.floats() | st.sampled_from([0.0, -0.0, 1e-320, 1e308, float("inf"), -1.0])

CALLS: dict[str, Callable[..., object]] = {
    "scale_mph": scale_speed.scale_mph,
    "model_mm_per_s": scale_speed.model_mm_per_s,
    "seconds_over": scale_speed.seconds_over,
    "reading": trapping.reading,
    "doubt": trapping.doubt,
    "spacing": lambda a, b, c: trapping.corrected_spacing(a, [b, b], c),
    "exact_cv4": momentum.exact_cv4,
    "seconds_to_rest": momentum.seconds_to_rest,
    "even_distance": momentum.even_distance,
    "from_steady_grade": rolling.from_steady_grade,
    "from_ramp": rolling.from_ramp,
    "from_two_speeds": rolling.from_two_speeds,
    "run_away": rolling.run_away,
    "nudged": lambda a, b, c: rolling.run_away(a, b, c, nudge_mm_s=20),
    "standing": lambda a, b, c: securing.standing(securing.Siding(a, c, 87.1, 0.5), b),
    "gauge_psi": lambda a, b, _: air.gauge_psi(a, 3, b),
    "minutes_to": lambda a, b, _: air.minutes_to(a, 3, b),
    "air_test": lambda a, b, _: air.air_test(a, int(b) if isfinite(b) else 0, air.Work.MADE_UP),
    "braking": lambda a, b, c: stopping.braking([a, a + 1, a + 2], b, stopping.Correction(c, 0.1)),
}
ARGUMENTS = {"seconds_to_rest": 2, "even_distance": 2, "model_mm_per_s": 2, "doubt": 2}
ARGUMENTS |= {"from_steady_grade": 2, "from_ramp": 2}


def numbers_in(found: object) -> list[float]:
    if isinstance(found, bool | int | float):
        return [float(found)]
    names = getattr(type(found), "__slots__", ())
    return [number for name in names for number in numbers_in(getattr(found, name))]


@pytest.mark.parametrize("name", CALLS)
@given(given_numbers=st.tuples(ANY, ANY, ANY))
def test_a_clear_word_or_a_number(name: str, given_numbers: tuple[float, float, float]) -> None:
    try:
        found = CALLS[name](*given_numbers[: ARGUMENTS.get(name, 3)])
    except UnsoundError:
        return
    assert not any(isnan(number) for number in numbers_in(found))


def runs(*passes: tuple[int, float]) -> tuple[Run, ...]:
    return tuple(Run(step, way, mph) for step, mph in passes for way in (True, False))


GOOD = runs((4, 4.0), (10, 15.0), (18, 30.0), (28, 50.0))


@pytest.mark.parametrize(
    ("question", "says"),
    [
        (Question(87.1, (), 700), "moved at 0 throttle steps"),
        (Question(87.1, runs((5, 10.0)), 700), "moved at 1 throttle steps"),
        (Question(87.1, GOOD[::2], 700), "in reverse, it has moved at 0"),
        (Question(0, GOOD, 700), "ratio must be above 0"),
        (Question(float("inf"), GOOD, 700), "ordinary number"),
        (Question(87.1, GOOD, 0), "stopping distance must be above 0"),
        (Question(87.1, GOOD, 700, top_mph=80), "not measured above 50.0"),
        (Question(87.1, GOOD, 700, top_mph=-1), "top speed must be above 0"),
        (Question(87.1, runs((4, float("nan")), (9, 1.0), (12, 2.0)), 700), "pass's speed"),
        (Question(87.1, runs((40, 10.0), (9, 1.0), (12, 2.0)), 700), "step must be from 1 to 28"),
        (Question(87.1, runs((1, 0.0), (2, 0.0), (3, 0.0)), 700), "moved at 0 throttle steps"),
    ],
)  # fmt: skip
def test_hostile_set_ups(question: Question, says: str) -> None:
    with pytest.raises(UnsoundError, match=says):
        advise(question)


def test_steps_that_are_none() -> None:
    with pytest.raises(UnsoundError, match="14, 28 or 126"):
        Drive(steps=27)
    with pytest.raises(UnsoundError, match="CV6"):
        Drive(middle=300)


@pytest.mark.parametrize("mph", [(7.0, 7.0, 7.0), (9.0, 5.0, 2.0), (0.1, 0.1, 90.0)])
def test_odd_curves_are_borne(mph: tuple[float, float, float]) -> None:
    """Flat, falling, and leaping: the fit makes them monotone, and the numbers stay numbers."""
    advice = advise(Question(87.1, runs(*zip((5, 14, 28), mph, strict=True)), 700))
    assert list(advice.settings.table) == sorted(advice.settings.table)
    assert all(isfinite(one) for one in (*advice.table_mph, *advice.forward.mph))


@given(
    passes=st.lists(st.tuples(st.integers(0, 28), st.booleans(), st.floats(0, 300)), max_size=14),
    top=st.none() | st.floats(0.01, 200),
)
def test_any_passes_give_a_word_or_whole_settings(
    passes: list[tuple[int, bool, float]], top: float | None
) -> None:
    try:
        advice = advise(
            Question(87.1, tuple(Run(*one) for one in passes), stop_mm=700, top_mph=top)
        )
    except UnsoundError:
        return
    found = advice.settings
    assert len(found.table) == 28
    assert all(0 < one <= 255 for one in (*found.table, found.reverse_trim))
    assert list(found.table) == sorted(found.table)
    assert isfinite(advice.braking.from_full_mm)
