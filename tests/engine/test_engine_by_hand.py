"""Hands at outputs: what the pins show, what is logged, and that every hand ends."""

from __future__ import annotations

from dataclasses import replace
from random import Random
from typing import Any

import pytest
from engine_stage import BEGAN_US, SETTLED_IN_US, TOML, Stage, reading

from firmware_py.core.core import Core
from firmware_py.core.entries import OutputEntry
from firmware_py.core.names import Shows
from firmware_py.engine.by_hand import LASTS_US, UNSEEN
from firmware_py.engine.engine import TURNED
from firmware_py.engine.ports import Check, Item, Stop, Turn, Work
from firmware_py.layout.reading import parse_layout

S = 1_000_000
POWERED = parse_layout(TOML.replace('switch = "mill-switch"', 'switch = "mill-switch"\npower = 17'),
                       "basin.toml")  # fmt: skip
GREEN, RED, BOLT = ("mill-switch", "green"), ("mill-switch", "red"), ("mill-switch", "bolt")
POWER = ("mill", "power")
Cue = tuple[int, Item]


def work(at_s: float, key: tuple[str, str], shows: Shows | None, number: int = 1) -> Cue:
    return round(at_s * S), Work(*key, shows, "10.0.0.7", number, 1_000)


def shown(stage: Stage, key: tuple[str, str]) -> list[Shows]:
    """What the pin was told, without repeats, after the start and before the end."""
    told = [s for of, output, s in stage.noted("show") if (of, output) == key]
    return [s for place, s in enumerate(told) if place == 0 or s is not told[place - 1]]


def answers(stage: Stage) -> list[tuple[Any, ...]]:
    return stage.noted("answer")


@pytest.fixture
def resting(stage: Stage) -> Stage:
    """Between sessions, on a layout with track power."""
    return replace(stage, layout=POWERED, opened=False)


def test_a_hand_lasts_a_minute_and_then_the_pin_shows_what_the_core_says(resting: Stage) -> None:
    resting.play([work(5, RED, Shows.STEADY), (200 * S, Check())])
    assert shown(resting, RED) == [Shows.OFF, Shows.STEADY, Shows.OFF]
    assert answers(resting) == [(1, True, None)]
    [(output, shows, whence, until_us)] = resting.noted("by-hand")
    assert (output, shows, whence) == ("mill-switch.red", "steady", "10.0.0.7")
    assert until_us == 5 * S - SETTLED_IN_US + LASTS_US
    assert resting.noted("hand-off") == [("mill-switch.red",)]
    said = [(text, t_us) for text, t_us in resting.noted("remark")]
    assert said[0][0].startswith("Red lamp of Mill switch worked by hand from the bench: lit for")
    assert "10.0.0.7" in said[0][0]
    assert said[1] == (
        "Red lamp of Mill switch is out of hand and off again: its time was up.",
        until_us,
    ), "on time, though nothing else happened then"


def test_what_the_core_says_meanwhile_waits_behind_the_hand(resting: Stage) -> None:
    resting.play(
        [
            work(5, RED, Shows.OFF),
            work(5, GREEN, Shows.STEADY, 2),
            reading(10 * S, "mill-switch.hasp", False),
            (20 * S, Check()),
            (200 * S, Check()),
        ]
    )
    reds = [e.shows for e in resting.entries if isinstance(e, OutputEntry) and e.output == "red"]
    assert reds[0] is Shows.FLASHING, "the log has the core's word"
    assert shown(resting, RED) == [Shows.OFF, Shows.FLASHING]
    assert shown(resting, GREEN) == [Shows.STEADY, Shows.OFF]


def test_pressing_again_gives_another_minute(resting: Stage) -> None:
    resting.play([work(5, RED, Shows.STEADY), work(45, RED, Shows.STEADY, 2), (100 * S, Check())])
    assert [until for *_, until in resting.noted("by-hand")] == [
        at * S - SETTLED_IN_US + LASTS_US for at in (5, 45)
    ]
    assert len(resting.noted("hand-off")) == 1
    assert "goes on being worked" in resting.noted("remark")[1][0]


def test_of_two_hosts_the_last_hand_counts_and_either_may_take_it_off(resting: Stage) -> None:
    other = Work(*RED, Shows.FLASHING, "10.0.0.8", 2, 1_000)
    off = Work(*RED, None, "10.0.0.7", 3, 1_000)
    resting.play([work(5, RED, Shows.STEADY), (6 * S, other), (7 * S, off)])
    assert shown(resting, RED) == [Shows.OFF, Shows.STEADY, Shows.FLASHING, Shows.OFF]
    assert [(number, done) for number, done, _ in answers(resting)] == [
        (1, True), (2, True), (3, True),
    ]  # fmt: skip
    assert "taken off by the host at 10.0.0.7" in resting.noted("remark")[-1][0]


def test_taking_off_a_hand_that_is_not_there_is_refused(resting: Stage) -> None:
    resting.play([work(5, RED, None)])
    assert answers(resting) == [(1, False, "no hand is at this output")]
    assert resting.noted("by-hand") == resting.noted("hand-off") == []


def test_in_a_session_what_promises_is_refused_and_no_pin_is_touched(stage: Stage) -> None:
    opened = replace(stage, layout=POWERED)
    opened.play(
        [
            work(5, GREEN, Shows.STEADY, 1),
            work(5, BOLT, Shows.DRAWN, 2),
            work(5, POWER, Shows.ON, 3),
            work(5, RED, Shows.OFF, 4),
        ]
    )
    assert all(not done and "close the session first" in why for _, done, why in answers(opened))
    assert len(answers(opened)) == 4
    assert opened.noted("by-hand") == opened.noted("remark") == []
    assert shown(opened, POWER) == [Shows.OFF]


def test_power_by_hand_goes_as_soon_as_a_flag_leaves_its_rack(resting: Stage) -> None:
    """At its raw edge, not when it has settled."""
    resting.levels = {"mill-flag.rack": True}
    resting.play(
        [
            work(5, POWER, Shows.ON),
            reading(10 * S, "mill-flag.rack", False),
            work(12, POWER, Shows.ON, 2),
        ]
    )
    assert shown(resting, POWER) == [Shows.OFF, Shows.ON, Shows.OFF]
    off_us = next(
        t for text, t in resting.noted("remark") if "Track power" in text and "out of" in text
    )
    assert off_us == 10 * S - SETTLED_IN_US
    assert [done for _, done, _ in answers(resting)] == [True, False]


def test_a_turn_of_the_session_ends_every_hand_before_the_next_begins(resting: Stage) -> None:
    def anew(core: Core, opened: bool, ended_us: int) -> None:
        assert resting.did[-1][0] != "by-hand"
        resting.did.append(("anew", opened))

    resting.anew = anew
    resting.play(
        [
            work(5, GREEN, Shows.OFF, 1),
            work(5, BOLT, Shows.DRAWN, 2),
            (10 * S, Turn(True, 3)),
            (10 * S, Work(*BOLT, Shows.DRAWN, "10.0.0.7", 4, -5 * S)),
            work(11, BOLT, Shows.DRAWN, 5),
            (200 * S, Check()),
        ]
    )
    place = resting.did.index(("anew", True))
    assert {done[1] for done in resting.did[:place] if done[0] == "hand-off"} == {
        "mill-switch.green", "mill-switch.bolt",
    }  # fmt: skip
    assert shown(resting, GREEN) == [Shows.STEADY, Shows.OFF, Shows.STEADY]
    assert shown(resting, BOLT) == [Shows.SHUT, Shows.DRAWN, Shows.SHUT]
    whys = {number: why for number, _, why in answers(resting)}
    assert whys[4] == TURNED, "it was left for the session before"
    assert "close the session first" in str(whys[5]), "crews are at work now"


def test_no_hand_stays_that_no_page_could_tell_of(resting: Stage) -> None:
    """A logbook that can't be written: the page would say nothing of the hand."""
    resting.writes = lambda: resting.clock.now_us < BEGAN_US + 10 * S
    resting.play([work(5, BOLT, Shows.DRAWN), (12 * S, Check()), work(13, RED, Shows.STEADY, 2)])
    assert shown(resting, BOLT) == [Shows.SHUT, Shows.DRAWN, Shows.SHUT]
    assert resting.noted("remark")[-1][1] == 12 * S - SETTLED_IN_US
    assert answers(resting)[1] == (2, False, UNSEEN)


def test_a_stop_ends_every_hand(resting: Stage) -> None:
    resting.play([work(5, BOLT, Shows.DRAWN), (6 * S, Stop())])
    assert resting.noted("hand-off") == [("mill-switch.bolt",)]
    assert "the engine was stopped" in resting.noted("remark")[-1][0]
    assert resting.did[-1] == ("safe",)


@pytest.mark.parametrize("seed", range(12))
def test_pins_show_the_hands_where_there_are_hands_and_the_core_elsewhere(
    resting: Stage, seed: int
) -> None:
    """Whatever readings and hands come in whatever order; and the entries are as without hands."""
    random = Random(seed)
    contacts = [contact.name for contact in POWERED.contacts]
    readings, hands = [], []
    for _ in range(60):
        at_us = random.randrange(3 * S, 400 * S)
        readings.append(reading(at_us, random.choice(contacts), random.choice([True, False])))
    for number in range(60):
        key = random.choice([GREEN, RED, BOLT, POWER, ("mill-switch", "white")])
        hands.append(work(random.randrange(3, 400), key, random.choice([None, *Shows]), number))
    plain = replace(resting, did=[], clock=type(resting.clock)())
    plain.play(sorted(readings, key=lambda cue: cue[0]))
    resting.play(sorted(readings + hands, key=lambda cue: cue[0]))
    assert resting.entries == plain.entries
    assert len(answers(resting)) == 60

    core = {(of, output): s for of, output, s in plain.noted("show")[: len(outputs(POWERED))]}
    pins, held = dict(core), {}
    for done in resting.did:
        match done:
            case ("entry", OutputEntry() as entry, _):
                core[entry.of, entry.output] = entry.shows
            case ("by-hand", name, shows, *_):
                held[tuple(name.split("."))] = Shows(shows)
            case ("hand-off", name):
                held.pop(tuple(name.split(".")))
            case ("show", of, output, shows):
                pins[of, output] = shows
            case ("answer", *_):
                assert pins == core | held
    assert not held


def outputs(layout: Any) -> dict[tuple[str, str], Shows]:  # noqa: ANN401
    return dict(Core(layout, {c.name: None for c in layout.contacts}).outputs())
