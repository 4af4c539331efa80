"""A session's course on a stage of our own: readings, orders, deadlines, and every way to end."""

from __future__ import annotations

from itertools import count

import pytest
from engine_stage import SETTLED_IN_US, Stage, reading

from firmware_py.core.core import Core
from firmware_py.core.entries import (
    Entry,
    OutputEntry,
    Refused,
    StageEntry,
    Violation,
)
from firmware_py.core.names import Command, Rule, Shows
from firmware_py.core.names import Stage as Lies
from firmware_py.core.orders import Order
from firmware_py.engine.ports import Check, Given, Stop

BEGUN = SETTLED_IN_US
SECOND = 1_000_000


def stages_of(stage: Stage) -> list[tuple[int, Lies]]:
    return [(e.t_us, e.stage) for e in stage.entries if isinstance(e, StageEntry)]


def violations_of(stage: Stage) -> list[tuple[int, Rule]]:
    return [(e.t_us, e.rule) for e in stage.entries if isinstance(e, Violation)]


def tape_of(stage: Stage) -> list[tuple[object, ...]]:
    return [line for line in stage.noted("tape") if line[0] > 0]


# Readings.


def test_a_reading_becomes_a_stage_when_it_has_settled(stage: Stage) -> None:
    stage.play([reading(BEGUN + SECOND, "mill-switch.hasp", False), (BEGUN + 2 * SECOND, Stop())])
    assert stages_of(stage) == [(SECOND + 20_000, Lies.UNLOCKED)]
    assert tape_of(stage) == [(SECOND, "mill-switch.hasp", False, None, None, None, None)]


def test_a_repeated_reading_leaves_no_trace(stage: Stage) -> None:
    """The pins read all levels anew every second; most of that is no news."""
    stage.play([reading(BEGUN + SECOND, "mill-switch.hasp", True), (BEGUN + 9 * SECOND, Stop())])
    assert tape_of(stage) == []
    assert stage.entries == []


def test_how_a_contact_stands_is_noted_raw_and_settled_with_its_edges(stage: Stage) -> None:
    edges = [
        reading(BEGUN + SECOND, "mill-switch.hasp", False),
        reading(BEGUN + SECOND + 1_000, "mill-switch.hasp", True),
        reading(BEGUN + SECOND + 2_000, "mill-switch.hasp", False),
    ]
    stage.play([*edges, (BEGUN + 2 * SECOND, Stop())])
    noted = [line[1:] for line in stage.noted("standing") if line[0] == "mill-switch.hasp"]
    assert noted == [
        (True, True, 0),
        (False, True, 1),
        (True, True, 2),
        (False, True, 3),
        (False, False, 3),
    ]


def test_lamps_are_shown_before_anything_is_written(stage: Stage) -> None:
    """A lamp must not wait for a disk."""
    stage.play([reading(BEGUN + SECOND, "mill-switch.hasp", False), (BEGUN + 2 * SECOND, Stop())])
    begun = next(place for place, done in enumerate(stage.did) if done[0] == "begin")
    later = [done for done in stage.did[begun:] if done[0] in {"show", "entry"}]
    lamps = [e for e in stage.entries if isinstance(e, OutputEntry)]
    assert lamps
    shown = [place for place, done in enumerate(later) if done[0] == "show"]
    written = [place for place, done in enumerate(later) if done[0] == "entry"]
    assert max(shown) < min(written)
    assert [done[1:] for done in later if done[0] == "show"][-len(lamps) :] == [
        (lamp.of, lamp.output, lamp.shows) for lamp in lamps
    ]


def test_a_late_reading_never_makes_time_fall(stage: Stage) -> None:
    """The deadline of the hasp is served before an edge comes that the kernel stamped earlier."""
    stage.play(
        [
            reading(BEGUN + SECOND, "mill-switch.hasp", False),
            reading(BEGUN + SECOND + 90_000, "mill-flag.rack", True, late_us=85_000),
            (BEGUN + 2 * SECOND, Stop()),
        ]
    )
    times = [line[0] for line in tape_of(stage)]
    assert times == [SECOND, SECOND + 20_000], "as early as the deadline already served allows"
    assert [e.t_us for e in stage.entries] == sorted(e.t_us for e in stage.entries)


def test_a_reading_from_before_the_session_is_never_at_zero(stage: Stage) -> None:
    """Zero is for how things stood: at it the reading would be lost from the tape's course."""
    stage.play(
        [
            reading(BEGUN + 5, "mill-switch.hasp", False, late_us=4_000),
            (BEGUN + SECOND, Stop()),
        ]
    )
    assert [line[0] for line in tape_of(stage)] == [1]


def test_a_reading_and_a_deadline_at_one_instant_go_deadline_first(stage: Stage) -> None:
    at_us = BEGUN + SECOND
    stage.play(
        [
            reading(at_us, "mill-switch.hasp", False),
            reading(at_us + 20_000, "mill-switch.hasp", True),
            (at_us + SECOND, Stop()),
        ]
    )
    assert [lies for _, lies in stages_of(stage)] == [Lies.UNLOCKED, Lies.SECURED]


def test_a_lost_contact_is_passed_on_as_lost(stage: Stage) -> None:
    stage.play([reading(BEGUN + SECOND, "mill-switch.normal", None), (BEGUN + 2 * SECOND, Stop())])
    assert tape_of(stage) == [(SECOND, "mill-switch.normal", None, None, None, None, None)]
    assert ("mill-switch", "green", Shows.OFF) in stage.noted("show")


# Deadlines.


def test_a_deadline_needs_no_reading(stage: Stage) -> None:
    stage.play([reading(BEGUN + SECOND, "mill-switch.hasp", False), (BEGUN + 90 * SECOND, Stop())])
    assert violations_of(stage)[-1] == (61 * SECOND + 20_000, Rule.LEFT_UNLOCKED)


def test_the_end_of_the_session_lets_deadlines_run_until_then(stage: Stage) -> None:
    end_us = stage.play(
        [reading(BEGUN + SECOND, "mill-switch.hasp", False), (BEGUN + SECOND + 20_000, Stop())]
    )
    assert end_us == SECOND + 20_000
    assert stages_of(stage) == [(SECOND + 20_000, Lies.UNLOCKED)]


def test_a_step_of_the_wall_clock_moves_no_deadline(stage: Stage) -> None:
    """Rulebook section 3; the log carries wall time too, whatever it says."""
    wall = count(1_800_000_000_000_000, -3_600_000_000)
    stage.wall_us = lambda: next(wall)
    stage.play([reading(BEGUN + SECOND, "mill-switch.hasp", False), (BEGUN + 90 * SECOND, Stop())])
    assert violations_of(stage)[-1] == (61 * SECOND + 20_000, Rule.LEFT_UNLOCKED)
    walls = [wall_us for _, wall_us in stage.noted("entry")]
    assert len(walls) > 2
    assert walls == sorted(walls, reverse=True), "set back by an hour at each look"


# Orders.


def test_an_order_is_on_the_tape_and_its_request_is_answered(stage: Stage) -> None:
    ask = Given(Order(Command.ASK, "mill"), request=7)
    stage.play([(BEGUN + SECOND, ask), (BEGUN + 2 * SECOND, Stop())])
    assert tape_of(stage) == [(SECOND, None, None, Command.ASK, "mill", None, None)]
    assert stage.noted("answer") == [(7, True, None)]


def test_a_refused_order_is_on_the_tape_too_and_answered_with_the_reason(stage: Stage) -> None:
    release = Given(Order(Command.RELEASE, "mill"), request=8)
    stage.play([(BEGUN + SECOND, release), (BEGUN + 2 * SECOND, Stop())])
    [refused] = [e for e in stage.entries if isinstance(e, Refused)]
    assert stage.noted("answer") == [(8, False, refused.why)]
    assert [line[3] for line in tape_of(stage)] == [Command.RELEASE]


def test_an_order_without_a_request_is_answered_to_nobody(stage: Stage) -> None:
    stage.play([(BEGUN + SECOND, Given(Order(Command.ASK, "mill"))), (BEGUN + 2 * SECOND, Stop())])
    assert stage.noted("answer") == []


def test_a_brake_test_takes_its_cars_along(stage: Stage) -> None:
    ask = Given(Order(Command.ASK, "mill"))
    test = Given(Order(Command.START_BRAKE_TEST, "mill", None, 3))
    stage.play([(BEGUN + SECOND, ask), (BEGUN + SECOND, test), (BEGUN + 99 * SECOND, Stop())])
    assert tape_of(stage)[-1] == (SECOND, None, None, Command.START_BRAKE_TEST, "mill", None, 3)


def test_a_violation_is_acknowledged_with_its_note(stage: Stage) -> None:
    forced = reading(BEGUN + SECOND, "mill-switch.normal", False)
    right = Given(Order(Command.ACKNOWLEDGE, violation=1), 9, "spoke to them")
    wrong = Given(Order(Command.ACKNOWLEDGE, violation=5), 10, "which one?")
    stage.play(
        [
            forced,
            (BEGUN + 2 * SECOND, right),
            (BEGUN + 3 * SECOND, wrong),
            (BEGUN + 4 * SECOND, right),
            (BEGUN + 5 * SECOND, Stop()),
        ]
    )
    assert violations_of(stage)[0] == (SECOND + 20_000, Rule.MOVED_WHILE_LOCKED)
    assert stage.noted("acknowledged") == [(1, 2 * SECOND, "spoke to them")]
    assert [answer[:2] for answer in stage.noted("answer")] == [(9, True), (10, False), (9, False)]


def test_a_violation_that_comes_again_is_a_repeat(stage: Stage) -> None:
    cues = [
        reading(BEGUN + place * SECOND, "mill-switch.normal", place % 2 == 0)
        for place in range(1, 4)
    ]
    stage.play([*cues, (BEGUN + 5 * SECOND, Stop())])
    assert len(violations_of(stage)) == 1
    assert stage.noted("repeat") == [(1, 2, 3 * SECOND + 20_000)]


# Looking after itself, and ending.


def test_a_check_writes_all_outputs_again_and_beats(stage: Stage) -> None:
    stage.play([(BEGUN + SECOND, Check()), (BEGUN + 2 * SECOND, Check())])
    assert stage.noted("refresh") == [(), ()]
    assert stage.noted("pulse") == [("guarding",), ("guarding",)]


def test_the_pins_are_made_safe_first_and_last(stage: Stage) -> None:
    assert stage.play([(BEGUN + SECOND, Stop())]) == SECOND
    assert stage.did[0] == ("safe",)
    assert stage.did[-1] == ("safe",)


def test_listeners_hear_every_entry_in_order(stage: Stage) -> None:
    heard: list[Entry] = []
    stage.listener = heard.append
    stage.play([reading(BEGUN + SECOND, "mill-switch.hasp", False), (BEGUN + 2 * SECOND, Stop())])
    assert heard == stage.entries != []


@pytest.mark.parametrize("verb", ["reading", "order", "advance"])
def test_the_pins_are_made_safe_when_the_core_raises(stage: Stage, verb: str) -> None:
    stage.mocker.patch.object(Core, verb, side_effect=RuntimeError("a defect"))
    with pytest.raises(RuntimeError, match="a defect"):
        stage.play(
            [
                reading(BEGUN + SECOND, "mill-switch.hasp", False),
                (BEGUN + 2 * SECOND, Given(Order(Command.ASK, "mill"))),
                (BEGUN + 3 * SECOND, Stop()),
            ]
        )
    assert stage.did[-1] == ("safe",)


@pytest.mark.parametrize("seam", ["Wires.levels", "Wires.show", "Notebook.tape", "Stage.begin"])
def test_the_pins_are_made_safe_whatever_else_raises(stage: Stage, seam: str) -> None:
    stage.mocker.patch(f"engine_stage.{seam}", side_effect=OSError("it went away"))
    with pytest.raises(OSError, match="it went away"):
        stage.play([(BEGUN + SECOND, Stop())])
    assert stage.did[-1] == ("safe",)


def test_a_listener_that_raises_is_told_of_once_and_the_engine_goes_on(stage: Stage) -> None:
    stage.listener = deaf = stage.mocker.Mock(side_effect=ValueError("deaf"))
    ended = stage.play(
        [
            reading(BEGUN + SECOND, "mill-switch.hasp", False),
            reading(BEGUN + 2 * SECOND, "mill-switch.hasp", True),
            (BEGUN + 9 * SECOND, Stop()),
        ]
    )
    assert ended == 9 * SECOND
    assert deaf.call_count == len(stage.entries) > 2
    said = [text for text, _ in stage.noted("remark")]
    assert len(said) == 1
    assert "deaf" in said[0]
