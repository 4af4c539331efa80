"""Whole answers: exact ones of fixed times, honest ones of a log, and clear words for the rest."""

from __future__ import annotations

import json
import math
import subprocess
import sys
from itertools import pairwise
from random import Random
from typing import Any

import msgspec
import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from firmware_py.core.pace import brake_test_seconds
from firmware_py.forecast.answering import answered
from firmware_py.forecast.dial import kept_scale, positions
from firmware_py.forecast.figures import quantile_of, share_of
from firmware_py.forecast.words import (
    Answer,
    ForecastError,
    JobPlan,
    Past,
    Question,
    SpurPlan,
    StepPlan,
    StopPlan,
)
from firmware_py.layout.model import ForemanKind
from tests.forecast.forecast_evenings import Group, bank, question_of

STEPS = (
    StepPlan("opening", "foreman", "foreman"),
    StepPlan("opening", "work", "entry"),
    StepPlan("working", "work", "work"),
    StepPlan("closing", "dock-switch", "switch"),
)
DOCK = SpurPlan("dock", "Dock", ForemanKind.HOST, (0, 0), ("dock-switch",), STEPS)
MILL = SpurPlan("mill", "Mill", ForemanKind.HOST, (0, 0), ("mill-switch",), STEPS)
RED = JobPlan(1, "Red", "", 2, (StopPlan("dock", 1),))
BLUE = JobPlan(2, "Blue", "", 2, (StopPlan("mill", 1),))
BOTH_AT_DOCK = (RED, msgspec.structs.replace(BLUE, stops=(StopPlan("dock", 1),)))


def fixed(spur: str, number: int) -> Past:
    """A round of which every step takes the same: 10 on the way, 20 the answer, 2 + 60 + 8."""
    steps = {"opening/work": 2.0, "working/work": 60.0, "closing/dock-switch": 8.0}
    return Past(number, spur, "", 0, None, 1, steps, 0, 20.0, 10.0, 30.0)


FIXED = tuple(fixed(spur, at) for at in range(40) for spur in ("dock", "mill"))


def ask(jobs: tuple[JobPlan, ...], **more: object) -> Answer:
    asked: dict[str, Any] = {"crews": 2, "minutes": 60, "past": FIXED, "evenings": 200} | more
    return answered(Question((DOCK, MILL), {"dock-switch": "Dock switch"}, 6.0, jobs, **asked))


def flat(answer: Answer) -> list[float]:
    """Every number of an answer."""
    found: list[float] = []

    def walk(value: object) -> None:
        if isinstance(value, dict):
            for one in value.values():
                walk(one)
        elif isinstance(value, list | tuple):
            for one in value:
                walk(one)
        elif isinstance(value, int | float) and not isinstance(value, bool):
            found.append(float(value))

    walk(msgspec.to_builtins(answer))
    return found


def middle(answer: Answer) -> float:
    """The optimistic bound's middle, in which nothing but the fixed times counts."""
    return answer.whole.mean.value


def test_one_job_takes_the_sum_of_its_steps() -> None:
    """10 there + 20 answer + 2 in + 60 work + 8 back = 100 s, and few brake tests (1 in 41)."""
    answer = ask((RED,))
    test_s = brake_test_seconds(2, 6.0) / 41
    assert middle(answer) == pytest.approx(100 + test_s, rel=0.02)


def test_two_jobs_at_two_spurs_share_only_the_foreman() -> None:
    """Both come at 10 s; the second answer begins when the first ends: 100 and 120 s."""
    answer = ask((RED, BLUE))
    assert sorted(one.mean.value for one in answer.jobs) == pytest.approx([100, 120], rel=0.03)
    assert [one.what for one in answer.bottlenecks] == ["foreman"]
    assert answer.bottlenecks[0].waited_s.value == pytest.approx(20, rel=0.02)


def test_two_jobs_at_one_spur_work_one_after_the_other() -> None:
    """The second waits 90 s for the spur, then takes its own 90: 190 s."""
    answer = ask(BOTH_AT_DOCK)
    assert middle(answer) == pytest.approx(190, rel=0.04)
    assert [one.name for one in answer.bottlenecks] == ["Dock"]
    assert answer.bottlenecks[0].waited_s.value == pytest.approx(90, rel=0.03)
    assert answer.bottlenecks[0].jobs == (1, 2)


def test_one_crew_works_one_job_after_another() -> None:
    """A way of 30 s between them: 100 + 30 + 90 = 220 s."""
    assert middle(ask((RED, BLUE), crews=1)) == pytest.approx(220, rel=0.03)


def test_a_named_crew_does_not_work_two_jobs_at_once() -> None:
    named = tuple(msgspec.structs.replace(job, crew="Smiths") for job in (RED, BLUE))
    assert middle(ask(named, crews=2)) > 190


def test_jobs_are_left_out_until_the_chance_is_reached() -> None:
    jobs = tuple(JobPlan(at, f"Job {at}", stops=(StopPlan("dock", 1),)) for at in range(1, 7))
    tight = ask(jobs, minutes=6, chance=0.9)
    assert tight.whole.chance.value < 0.2
    assert tight.leave_out.reached
    assert tight.leave_out.chance.value >= 0.9
    assert 1 <= len(tight.leave_out.jobs) <= 4
    assert ask(jobs, minutes=60).leave_out.jobs == ()
    hopeless = ask(jobs, minutes=1)
    assert not hopeless.leave_out.reached
    assert len(hopeless.leave_out.jobs) == 5


def test_the_dial_costs_waiting() -> None:
    auto = msgspec.structs.replace(DOCK, foreman=ForemanKind.AUTO, answer_s=(20, 20))
    asked = Question((auto,), {}, 6.0, (RED,), 1, 60, scales=(0.5, 1, 2, 6), evenings=200)
    dial = answered(asked).dial
    percents = [one.waiting_percent.value for one in dial]
    assert percents == sorted(percents)
    assert percents[-1] > 2 * percents[1]
    assert [one.middle_s for one in dial] == sorted(one.middle_s for one in dial)


def test_the_share_of_waiting_is_exact_for_fixed_times() -> None:
    """20 s of answer in 90 s at work, and a brake test of (2 x 18.39 + 50) / 6 in every round."""
    tested = tuple(msgspec.structs.replace(one, tests=1) for one in FIXED)
    answer = ask((RED,), past=tested)
    test_s = brake_test_seconds(2, 6.0)
    assert test_s == pytest.approx((2 * 0.3065 * 60 + 50) / 6)
    share = 100 * (20 + test_s) / (90 + test_s)
    assert answer.dial[0].waiting_percent.value == pytest.approx(share, rel=0.03)


def group_question(**more: object) -> Question:
    group, past = Group(Random(5)), []
    for _ in range(3):
        past += group.play(group.jobs()[:3]).past
    return question_of(group, bank()[:4], past, **{"evenings": 200, "minutes": 600, **more})


def test_a_seed_gives_the_same_answer_and_another_one_nearly_the_same() -> None:
    one, again, other = (answered(group_question(seed=seed)) for seed in (1, 1, 2))
    assert one == again
    assert one.whole.mean.value != other.whole.mean.value
    apart = abs(one.whole.mean.value - other.whole.mean.value)
    assert apart < 3 * (one.whole.mean.error + other.whole.mean.error)


def test_the_error_shown_is_the_error_made() -> None:
    """Of many answers with few evenings each, 95 in 100 lie within their error of the truth."""
    truth = answered(group_question(evenings=1500, seed=99)).whole
    tries = [answered(group_question(seed=seed, evenings=50)).whole for seed in range(16)]
    means = sum(abs(one.mean.value - truth.mean.value) <= one.mean.error for one in tries)
    middles = sum(abs(one.middle.value - truth.middle.value) <= one.middle.error for one in tries)
    assert means >= 12
    assert middles >= 12


def test_bounds_and_quantiles_are_in_their_order() -> None:
    answer = answered(group_question())
    whole = answer.whole
    assert all(a <= b for a, b in pairwise(whole.curve))
    assert whole.low.value <= whole.middle.value <= whole.high.value
    wide = whole.together.high - whole.together.low
    assert whole.independent.high - whole.independent.low < wide
    assert all(math.isfinite(one) for one in flat(answer))


def test_the_intervals_of_the_errors() -> None:
    """Wilson's interval of 8 in 10 is 0.4902 to 0.9433 (from memory); and of none it is not 0."""
    assert share_of(8, 10).error == pytest.approx(0.8 - 0.4902, abs=1e-3)
    assert share_of(0, 100).error == pytest.approx(0.037, abs=1e-3)
    assert quantile_of(np.arange(1001.0), 0.5).error == pytest.approx(31, abs=1)


@pytest.mark.parametrize(
    ("more", "says"),
    [
        ({"crews": 0}, "the number of crews is 0; give 1 to 50"),
        ({"crews": -3}, "the number of crews"),
        ({"crews": 10**9}, "the number of crews"),
        ({"minutes": 0}, "the evening's minutes is 0"),
        ({"minutes": math.nan}, "the evening's minutes is nan"),
        ({"minutes": math.inf}, "the evening's minutes is inf"),
        ({"wait_scale": math.inf}, "the pace dial is inf"),
        ({"scales": (1, math.nan)}, "the pace dial is nan"),
        ({"chance": 1.5}, "the chance wanted"),
        ({"evenings": 10**9}, "the number of evenings"),
        ({"seed": -1}, "the seed"),
        ({"jobs": ()}, "there is no job to forecast"),
        ({"jobs": (JobPlan(1, "Red"),)}, r"none of the jobs can be worked \(Red: it has no stop"),
        ({"jobs": (RED, RED)}, "two jobs have the same number"),
        ({"jobs": (JobPlan(1, "X", stops=(StopPlan("moon"),)),)}, "the layout has no spur moon"),
        ({"jobs": (JobPlan(1, "X", stops=(StopPlan("dock", 10**9),)),)}, "so many cars"),
        ({"clock_ratio": math.inf}, "the layout's clock ratio is inf"),
        ({"clock_ratio": 0.0}, "the layout's clock ratio is 0"),
        ({"past": (Past(3, "dock", steps={"opening/work": math.nan}),)}, "session 3 of the log"),
        ({"spurs": (msgspec.structs.replace(DOCK, answer_s=(0, math.inf)),)}, "in no time"),
    ],
)
def test_hostile_numbers_get_a_clear_word(more: dict[str, Any], says: str) -> None:
    asked = Question((DOCK, MILL), {}, 6.0, (RED,), 1, 60.0, evenings=60)
    with pytest.raises(ForecastError, match=says):
        answered(msgspec.structs.replace(asked, **more))


def test_jobs_that_cannot_be_worked_are_named_and_the_others_forecast() -> None:
    answer = ask((RED, JobPlan(9, "Lost", stops=(StopPlan("moon"),)), JobPlan(8, "Idle")))
    assert [one.name for one in answer.jobs] == ["Red"]
    assert [(one.name, one.why) for one in answer.unworkable] == [
        ("Lost", "the layout has no spur moon"),
        ("Idle", "it has no stop; give it a spur to work"),
    ]


@settings(max_examples=10, deadline=None)
@given(
    st.lists(st.floats(0, 1e5), max_size=3),
    st.integers(0, 3),
    st.integers(1, 5),
    st.floats(1, 1440),
    st.lists(st.floats(0, 1), max_size=4),
)
def test_whatever_the_log_holds_no_figure_is_nan(
    times: list[float], cars: int, crews: int, minutes: float, places: list[float]
) -> None:
    past = tuple(
        Past(at, "dock", "red", 1, at, cars, {"working/work": t, "opening/work": t}, 1, t, t, t)
        for at, t in enumerate(times)
    )
    answer = ask(
        (RED, BLUE), past=past, crews=crews, minutes=minutes, places=tuple(places), evenings=50
    )
    assert all(math.isfinite(one) and one >= 0 for one in flat(answer))


def test_the_process_answers_and_refuses_in_json() -> None:
    asked = msgspec.json.encode(Question((DOCK,), {}, 6.0, (RED,), 1, 60.0, evenings=50))
    command = [sys.executable, "-m", "firmware_py.forecast"]
    done = subprocess.run(command, input=asked, capture_output=True, check=True, timeout=100)
    assert msgspec.convert(json.loads(done.stdout), Answer).jobs[0].name == "Red"
    none = msgspec.json.encode(Question((DOCK,), {}, 6.0, (), 1, 60.0))
    refused = subprocess.run(command, input=none, capture_output=True, check=False, timeout=100)
    assert refused.returncode == 2
    assert refused.stderr.decode().strip().startswith("there is no job to forecast")


def test_the_dials_positions() -> None:
    assert [at.scale for at in positions(6)] == [0.5, 1, 2.45, 6]
    assert [at.scale for at in positions(1)] == [0.5, 1]
    assert [at.scale for at in positions(0.25)] == [0.5, 1]
    assert max(at.scale for at in positions(1e300)) == 1000
    assert kept_scale("nan") == kept_scale("-1") == kept_scale("") == 1.0
