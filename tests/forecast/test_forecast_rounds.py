"""From lines to rounds, to whose they were, and to the times that later forecasts learn from."""

from __future__ import annotations

from typing import Any

from firmware_py.forecast.attributing import HERE, LEFT, Mark, evening_of, ways_of
from firmware_py.forecast.past import Known, past_of
from firmware_py.forecast.rounds import Rounds, answers_of, rounds_of
from firmware_py.forecast.words import JobPlan, StopPlan

DOCK_THEN_MILL = JobPlan(1, "Red", "Red", 3, (StopPlan("dock", 2), StopPlan("mill", 1)))
ONLY_DOCK = JobPlan(2, "Blue", "Blue", 2, (StopPlan("dock", 4),))


def phase(t: float, spur: str, word: str, step: str | None) -> dict[str, Any]:
    return {"t": t, "what": "phase", "spur": spur, "phase": word, "next": step}


def foreman(t: float, spur: str, word: str) -> dict[str, Any]:
    return {"t": t, "what": "foreman", "spur": spur, "is": word}


def brakes(t: float, spur: str, word: str) -> dict[str, Any]:
    return {"t": t, "what": "brake-test", "spur": spur, "is": word}


def one(spur: str, t: float) -> list[dict[str, Any]]:
    """A round: asked at once, 10 s to the answer, 30 s of work with 12 s of test, 5 s to close."""
    return [
        foreman(t, spur, "asked"),
        phase(t, spur, "opening", "foreman"),
        foreman(t + 10, spur, "released"),
        phase(t + 10, spur, "opening", "work"),
        phase(t + 12, spur, "working", "work"),
        brakes(t + 20, spur, "running"),
        brakes(t + 32, spur, "done"),
        phase(t + 42, spur, "closing", "switch"),
        phase(t + 47, spur, "idle", None),
    ]


def told(*lines: dict[str, Any]) -> Rounds:
    ordered = sorted(lines, key=lambda line: line["t"])
    return rounds_of(list(enumerate(ordered, 1)))


def test_a_rounds_steps_are_timed() -> None:
    found = told(*one("dock", 100)).rounds
    assert len(found) == 1
    assert found[0].steps == {
        "opening/foreman": 10,
        "opening/work": 2,
        "working/work": 30,
        "closing/switch": 5,
    }
    assert (found[0].began_s, found[0].ended_s, found[0].worked) == (100, 147, True)
    assert (found[0].tests, found[0].tested_s) == (1, 12)


def test_a_host_answers_one_crew_at_a_time() -> None:
    """Two asked at 0 and 4; he answered at 10 and 16: the second answer took 6 s, not 12."""
    found = told(
        phase(0, "dock", "opening", "foreman"),
        foreman(0, "dock", "asked"),
        phase(4, "mill", "opening", "foreman"),
        foreman(4, "mill", "asked"),
        foreman(10, "dock", "released"),
        foreman(16, "mill", "released"),
    ).rounds
    assert sorted(answers_of(found, frozenset({"dock", "mill"})).values()) == [6, 10]
    assert list(answers_of(found, frozenset({"mill"})).values()) == [12]


def test_without_ticks_the_one_whose_turn_it_is_has_the_round() -> None:
    found = told(*one("dock", 100), *one("mill", 200))
    evening = evening_of([DOCK_THEN_MILL, ONLY_DOCK], found.rounds, [])
    assert evening.ended_s(1) == 247
    assert evening.ended_s(2) is None


def test_a_tick_overrules_the_guess() -> None:
    found = told(*one("dock", 100), *one("dock", 200))
    marks = [Mark(2, 0, HERE, 0, 90.0)]
    evening = evening_of([DOCK_THEN_MILL, ONLY_DOCK], found.rounds, marks)
    assert evening.ended_s(2) == 147
    assert evening.stops[1][0].round is found.rounds[1]


def test_a_stop_that_was_left_is_not_worked_to_its_end() -> None:
    found = told(*one("mill", 300))
    evening = evening_of([DOCK_THEN_MILL], found.rounds, [Mark(1, 0, LEFT, 0, 200.0)])
    assert evening.stops[1][1].round is found.rounds[0]
    assert evening.ended_s(1) is None


def test_the_way_to_a_taken_spur_is_told_by_a_tick_alone() -> None:
    red, blue = one("dock", 100), one("dock", 160)
    found = told(*red, *blue, *one("mill", 200))
    jobs = [DOCK_THEN_MILL, ONLY_DOCK]
    ids = {round_.spur + str(round_.began_s): round_.began_id for round_ in found.rounds}
    ways = ways_of(evening_of(jobs, found.rounds, []), found.rounds)
    assert ways[ids["dock100.0"]] == (100, True)
    assert ids["dock160.0"] not in ways
    assert ways[ids["mill200.0"]] == (53, False)
    ticked = evening_of(jobs, found.rounds, [Mark(1, 0, HERE, 0, 99.0), Mark(2, 0, HERE, 2, 120.0)])
    assert ways_of(ticked, found.rounds)[ids["dock160.0"]] == (120, True)


def test_what_is_learnt_from_a_round() -> None:
    known = Known(frozenset({"dock"}), {"red": 12})
    past, _ = past_of(7, told(*one("dock", 100)), [DOCK_THEN_MILL], [], known)
    assert len(past) == 1
    assert past[0].steps["working/work"] == 18  # Without its brake test of 12 s.
    assert (past[0].crew, past[0].rounds_before, past[0].cars) == ("red", 12, 2)
    assert (past[0].answer_s, past[0].start_s, past[0].tests) == (10, 100, 1)


def test_a_round_that_nobody_worked_or_that_never_ended_teaches_nothing() -> None:
    known = Known(frozenset(), {})
    opened = [phase(5, "dock", "opening", "switch"), phase(9, "dock", "idle", None)]
    past, _ = past_of(1, told(*opened, *one("mill", 100)[:-1]), [DOCK_THEN_MILL], [], known)
    assert past == []


def test_a_session_that_begins_in_the_middle_of_a_round() -> None:
    found = Rounds({"dock": ["working", "work"]})
    found.take(phase(5, "dock", "closing", "switch"), 1)
    found.take(phase(9, "dock", "idle", None), 2)
    assert all(not one.worked for one in found.rounds)
