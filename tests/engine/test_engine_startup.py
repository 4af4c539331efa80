"""How a session begins: nothing is believed before it has settled (rulebook sections 3 and 7)."""

from __future__ import annotations

import pytest
from engine_stage import BEGAN_US, LAYOUT, SETTLED_IN_US, Stage, reading

from firmware_py.core.core import Core
from firmware_py.core.entries import FaultEntry, OutputEntry, PhaseEntry, Violation
from firmware_py.core.names import Command, Fault, Shows
from firmware_py.core.orders import Order
from firmware_py.engine.ports import Given, Item, Stop

MINUTE_US = 60_000_000


def chatter(contact: str, until_us: int, every_us: int = 5_000) -> list[tuple[int, Item]]:
    """A contact that never holds still for its settle time."""
    times = range(0, until_us, every_us)
    return [reading(t_us, contact, place % 2 == 1) for place, t_us in enumerate(times)]


def test_a_session_begins_only_when_the_detectors_have_been_clear_for_their_time(
    stage: Stage,
) -> None:
    stage.play()
    [(began_us, settled)] = stage.noted("begin")
    assert began_us == SETTLED_IN_US
    assert settled["mill.detector"] is False
    assert settled["mill-switch.hasp"] is True


def test_an_occupied_detector_settles_as_fast_as_any_contact(stage: Stage) -> None:
    stage.levels = {"mill.detector": True, "mill-switch.detector": True}
    stage.play()
    assert stage.noted("begin")[0][0] == 20_000


def test_a_contact_that_moves_meanwhile_is_waited_for(stage: Stage) -> None:
    stage.play(
        [reading(1_900_000, "mill.detector", True), reading(1_950_000, "mill.detector", False)]
    )
    [(began_us, settled)] = stage.noted("begin")
    assert began_us == 1_950_000 + 2_000_000
    assert settled["mill.detector"] is False


def test_what_changed_meanwhile_is_how_things_stand_and_raises_nothing(stage: Stage) -> None:
    stage.play([reading(500_000, "mill-switch.hasp", False), (MINUTE_US, Stop())])
    [(_, settled)] = stage.noted("begin")
    assert settled["mill-switch.hasp"] is False
    assert not [entry for entry in stage.entries if isinstance(entry, Violation)]


def test_the_tape_begins_with_every_contact_at_zero(stage: Stage) -> None:
    stage.levels = {"mill-flag.rack": True}
    stage.play()
    at_zero = {contact: made for t_us, contact, made, *_ in stage.noted("tape") if t_us == 0}
    assert at_zero == Core(LAYOUT, {"mill-flag.rack": True}).settled()


def test_a_contact_that_chatters_for_ten_seconds_begins_as_unknown(stage: Stage) -> None:
    stage.play([*chatter("mill-switch.normal", 12_000_000), (12_000_000, Stop())])
    [(began_us, settled)] = stage.noted("begin")
    assert began_us == 10_000_000
    assert settled["mill-switch.normal"] is None
    assert [made for made in settled.values() if made is None] == [None]
    assert ("mill-switch", "green", Shows.STEADY) not in stage.noted("show")


def test_an_unknown_contact_that_has_come_to_rest_is_known_without_moving_again(
    stage: Stage,
) -> None:
    """It came to rest just before the ten seconds were over; the pins tell only of changes."""
    last = reading(9_999_000, "mill-switch.normal", True)
    stage.play([*chatter("mill-switch.normal", 9_999_000), last, (MINUTE_US, Stop())])
    assert stage.noted("begin")[0][1]["mill-switch.normal"] is None
    faults = [entry for entry in stage.entries if isinstance(entry, FaultEntry)]
    assert [(fault.fault, fault.at, fault.ended) for fault in faults] == [
        (Fault.LOST, "mill-switch.normal", True)
    ]
    assert stage.noted("show")[-1] == ("mill-switch", "red", Shows.OFF)
    assert ("mill-switch", "green", Shows.STEADY) in stage.noted("show")


def test_a_lost_contact_is_not_waited_for_and_is_unknown(stage: Stage) -> None:
    stage.levels = {"mill-switch.hasp": None}
    stage.play()
    [(began_us, settled)] = stage.noted("begin")
    assert began_us == SETTLED_IN_US
    assert settled["mill-switch.hasp"] is None
    assert ("mill-switch", "bolt", Shows.DRAWN) not in stage.noted("show")


def test_a_contact_that_the_pins_do_not_tell_of_is_unknown(stage: Stage) -> None:
    stage.levels = {contact.name: None for contact in LAYOUT.contacts}
    stage.play()
    assert set(stage.noted("begin")[0][1].values()) == {None}


def test_the_engine_can_be_stopped_before_a_session_began(stage: Stage) -> None:
    assert stage.play([(1_000_000, Stop())]) is None
    assert stage.noted("begin") == []
    assert stage.noted("tape") == []
    assert stage.did[0] == stage.did[-1] == ("safe",)


def test_an_order_given_meanwhile_is_obeyed_once_the_session_has_begun(stage: Stage) -> None:
    asked = Given(Order(Command.ASK, "mill"), request=4)
    stage.play([(1_000_000, asked), (MINUTE_US, Stop())])
    phases = [entry.phase for entry in stage.entries if isinstance(entry, PhaseEntry)]
    assert phases == ["opening"]
    assert stage.noted("answer") == [(4, True, None)]


def test_a_bolt_is_shut_until_everything_has_settled(stage: Stage) -> None:
    """Rulebook section 9: no bolt is drawn at start-up before every contact has settled."""
    stage.play([(SETTLED_IN_US + 1, Stop())])
    began = next(place for place, done in enumerate(stage.did) if done[0] == "begin")
    assert not [done for done in stage.did[:began] if done[0] == "show"]
    assert stage.did[0] == ("safe",)


def test_outputs_that_the_layout_has_are_all_shown_as_the_session_begins(stage: Stage) -> None:
    stage.play()
    shown = {(of, output): shows for of, output, shows in stage.noted("show")}
    assert shown == Core(LAYOUT).outputs()


@pytest.mark.parametrize("late_us", [0, 1, 1_999_999])
def test_an_edge_from_before_the_session_counts_from_its_own_time(
    stage: Stage, late_us: int
) -> None:
    """The kernel stamps edges; a busy engine that hears of one late must not wait anew."""
    cue = reading(2_000_000 - 1, "mill-switch.detector", True, late_us)
    back = reading(2_000_000 - 1, "mill-switch.detector", False, late_us)
    stage.play([cue, back])
    assert stage.noted("begin")[0][0] == 2_000_000 - 1 - late_us + 2_000_000


def test_no_output_entry_stands_for_what_was_shown_as_the_session_began(stage: Stage) -> None:
    stage.play()
    assert not [entry for entry in stage.entries if isinstance(entry, OutputEntry)]
    assert stage.clock.now_us >= BEGAN_US + SETTLED_IN_US
