"""The statistics against Python's own, the waiting against a count second by second."""

from __future__ import annotations

import statistics

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from web.debrief.evening import Evening, Wait, WaitFor
from web.debrief.pace import Spread, spread_of, step_times
from web.debrief.waiting import Waiting, Worked, all_worked, overall, union_us, waiting_of
from web.live.board import Round, Work

US = 1_000_000
NUMBERS = st.lists(st.floats(0, 1e9), min_size=2, max_size=60)


def percentile(ordered: list[float], part: float) -> float:
    """By hand: the place between two neighbours, as far along as the part says."""
    place = part * (len(ordered) - 1)
    below = int(place)
    above = min(below + 1, len(ordered) - 1)
    return ordered[below] + (place - below) * (ordered[above] - ordered[below])


@given(numbers=NUMBERS)
def test_a_spread_is_what_python_and_the_hand_say(numbers: list[float]) -> None:
    spread = spread_of(numbers)
    assert spread is not None
    ordered = sorted(numbers)
    assert (spread.count, spread.low, spread.high) == (len(numbers), ordered[0], ordered[-1])
    assert spread.median == pytest.approx(statistics.median(numbers))
    assert spread.quarter == pytest.approx(percentile(ordered, 0.25))
    assert spread.three_quarters == pytest.approx(percentile(ordered, 0.75))
    assert spread.low <= spread.quarter <= spread.median <= spread.three_quarters <= spread.high


def test_small_spreads() -> None:
    assert spread_of([]) is None
    assert spread_of([7]) == Spread(1, 7, 7, 7, 7, 7)
    assert spread_of([1, 2, 3, 4, 5]) == Spread(5, 1, 2, 3, 4, 5)


def test_steps_stand_in_their_spurs_order_against_all_earlier_sessions() -> None:
    flag, switch = ("kiln", "opening", "flag"), ("kiln", "opening", "switch")
    now = {switch: [30 * US, 50 * US], flag: [10 * US]}
    history = [{flag: [20 * US]}, {flag: [40 * US], switch: [60 * US]}]
    orders = {"kiln": [("opening", "flag"), ("opening", "switch"), ("closing", "flag")]}
    first, second = step_times(now, history, orders)
    assert (first.step, first.now, first.before) == (
        "flag",
        (10 * US,),
        Spread(2, 20 * US, 25 * US, 30 * US, 35 * US, 40 * US),
    )
    assert second.now_spread.median == 40 * US
    assert second.before == Spread(1, *[60 * US] * 5)


INTERVALS = st.lists(
    st.tuples(st.integers(0, 60), st.integers(0, 30)).map(lambda pair: (pair[0], sum(pair))),
    max_size=12,
)


@given(intervals=INTERVALS)
def test_a_union_is_the_count_of_covered_moments(intervals: list[tuple[int, int]]) -> None:
    covered = {moment for began, ended in intervals for moment in range(began, ended)}
    assert union_us(intervals) == len(covered)


def an_evening(rounds: dict[str, list[tuple[int, int | None]]], waits: list[Wait]) -> Evening:
    work, ident = {}, 0
    for spur, spans in rounds.items():
        work[spur] = Work(rounds=[])
        for began, ended in spans:
            ident += 2
            over = None if ended is None else ident + 1
            end_us = None if ended is None else ended * US
            work[spur].rounds.append(Round(ident, began * US, True, over, end_us))
    return Evening(1_000 * US, ended=True, work=work, waits=waits)


def wait(spur: str, what: WaitFor, began: int, ended: int) -> Wait:
    return Wait(spur, what, began * US, ended * US, "")


def test_a_crews_time_runs_from_its_first_spur_to_its_last() -> None:
    """By hand: the crew is at work from 100 to 400, and waits 20 + 30 + 15 of these 300 s."""
    made = an_evening(
        {"kiln": [(100, 200)], "mill": [(300, 400), (500, 600)]},
        [
            wait("kiln", WaitFor.FOREMAN, 100, 120),
            wait("mill", WaitFor.FOREMAN, 300, 330),
            wait("mill", WaitFor.BRAKE_TEST, 350, 365),
            wait("mill", WaitFor.FOREMAN, 500, 540),
        ],
    )
    kiln, mill = made.work["kiln"].rounds, made.work["mill"].rounds
    worked = all_worked(made, {7: {0: [kiln[0]], 1: [mill[0]]}})
    assert [(one.spur, one.job, one.stop) for one in worked] == [
        ("kiln", 7, 0),
        ("mill", 7, 1),
        ("mill", 0, 0),
    ]
    shares = waiting_of(worked, made)
    assert shares[7] == Waiting(300 * US, 65 * US, 50 * US, 15 * US)
    assert shares[7].percent == pytest.approx(100 * 65 / 300)
    assert shares[0] == Waiting(100 * US, 40 * US, 40 * US, 0)
    assert overall(shares) == Waiting(400 * US, 105 * US, 90 * US, 15 * US)


def test_nobody_at_work_is_no_share_at_all() -> None:
    assert Waiting().percent is None
    assert overall({}) == Waiting()


SPANS = st.tuples(st.integers(0, 300), st.integers(1, 120))


@settings(max_examples=150, deadline=None)
@given(
    rounds=st.lists(st.tuples(SPANS, st.integers(0, 2)), min_size=1, max_size=6),
    waits=st.lists(st.tuples(SPANS, st.sampled_from(WaitFor)), max_size=8),
)
def test_waiting_is_what_a_stopwatch_would_count(
    rounds: list[tuple[tuple[int, int], int]], waits: list[tuple[tuple[int, int], WaitFor]]
) -> None:
    """One spur at a time: each second of each round is asked whether a wait covers it."""
    t, spans = 0, []
    for (gap, lasts), job in rounds:
        spans.append((t + gap, t + gap + lasts, job))
        t += gap + lasts
    told = [wait("kiln", what, at, at + lasts) for (at, lasts), what in waits]
    made = an_evening({"kiln": [(began, ended) for began, ended, _ in spans]}, told)
    owned = zip(made.work["kiln"].rounds, spans, strict=True)
    worked = [Worked("kiln", one, job) for one, (_, _, job) in owned]
    shares = waiting_of(worked, made)
    for job in {job for _, _, job in spans}:
        mine = [(began, ended) for began, ended, of in spans if of == job]
        seconds = {second for began, ended in mine for second in range(began, ended)}
        waited = {
            second
            for second in seconds
            if any(one.began_us <= second * US < one.ended_us for one in told)
        }
        assert shares[job].waited_us == len(waited) * US
        whole = mine[-1][1] - mine[0][0] if job else sum(end - begin for begin, end in mine)
        assert shares[job].time_us == whole * US
