"""What a hand at the bench may have an output show, and when.

Common practice, no source, but for the two dangers: rulebook section 9 (no power under a
displayed flag) and detector locking (an occupied section holds its switch).
"""

from __future__ import annotations

from itertools import product

import pytest

from firmware_py.core.by_hand import (
    CHOICES,
    Believed,
    called,
    objection,
    shows_says,
    thing_of,
)
from firmware_py.core.names import Shows
from firmware_py.layout.model import Layout, outputs_of
from firmware_py.layout.reading import parse_layout

TOML = """
[layout]
name = "Chalk Hollow"
scale = "HO"
[[switch]]
id = "pit-switch"
name = "Pit switch"
lock = "padlock"
contacts = { hasp = 5, normal = 6, reverse = 13, detector = 19 }
lamps = { green = 20, red = 21, white = 16 }
bolt = 12
buzzer = 18
[[switch]]
id = "bare-switch"
lock = "none"
contacts = { normal = 7, reverse = 8 }
bolt = 9
[[spur]]
id = "pit"
name = "Pit"
switch = "pit-switch"
power = 17
[[spur]]
id = "bare"
switch = "bare-switch"
power = 11
[[flag]]
id = "pit-flag"
name = "Pit flag"
spur = "pit"
contacts = { rack = 24 }
lamp = 25
[[flag]]
id = "pit-south-flag"
name = "Pit south flag"
spur = "pit"
contacts = { rack = 22 }
[[derail]]
id = "pit-derail"
spur = "pit"
contacts = { on = 26 }
lamp = 27
"""
LAYOUT: Layout = parse_layout(TOML, "hollow.toml")
SAFE: Believed = {
    "pit-flag.rack": True,
    "pit-south-flag.rack": True,
    "pit-switch.detector": False,
}
EVERY = [(thing.id, output) for thing in LAYOUT.things for output, _ in outputs_of(thing)]


def why(of: str, output: str, shows: Shows, believed: Believed, *, opened: bool) -> str | None:
    thing = thing_of(LAYOUT, of, output)
    assert thing is not None
    return objection(LAYOUT, thing, output, shows, believed, opened=opened)


def test_between_sessions_all_that_an_output_can_show_may_be_tried() -> None:
    for of, output in EVERY:
        for shows in CHOICES[output]:
            assert why(of, output, shows, SAFE, opened=False) is None


def test_in_a_session_a_hand_only_takes_away_what_an_output_promises() -> None:
    """The whole table, written out: what is not here is refused."""
    may = {
        ("pit-switch", "green", Shows.OFF),
        ("pit-switch", "red", Shows.STEADY),
        ("pit-switch", "red", Shows.FLASHING),
        ("pit-switch", "white", Shows.OFF),
        ("pit-switch", "bolt", Shows.SHUT),
        ("pit-switch", "buzzer", Shows.ON),
        ("bare-switch", "bolt", Shows.SHUT),
        ("pit", "power", Shows.OFF),
        ("bare", "power", Shows.OFF),
        ("pit-flag", "lamp", Shows.STEADY),
        ("pit-derail", "lamp", Shows.OFF),
    }
    tried = {
        (of, output, shows)
        for (of, output), shows in product(EVERY, Shows)
        if why(of, output, shows, SAFE, opened=True) is None
    }
    assert tried == may


def test_a_refusal_in_a_session_says_what_to_do() -> None:
    said = why("pit-switch", "green", Shows.STEADY, SAFE, opened=True)
    assert said == (
        "while a session is open, green shows only what is proven; close the session first"
    )


@pytest.mark.parametrize("racked", [False, None], ids=["displayed", "unknown"])
@pytest.mark.parametrize("flag", ["pit-flag", "pit-south-flag"])
def test_no_power_by_hand_where_a_flag_may_be_displayed(flag: str, racked: bool | None) -> None:
    believed = {**SAFE, f"{flag}.rack": racked}
    said = why("pit", "power", Shows.ON, believed, opened=False)
    assert said is not None
    assert "not known to be in its rack" in said
    assert why("pit", "power", Shows.OFF, believed, opened=False) is None
    assert why("bare", "power", Shows.ON, believed, opened=False) is None, "it has no flag"


@pytest.mark.parametrize("occupied", [True, None], ids=["occupied", "unknown"])
def test_no_bolt_by_hand_over_a_section_that_may_be_occupied(occupied: bool | None) -> None:
    believed = {**SAFE, "pit-switch.detector": occupied}
    said = why("pit-switch", "bolt", Shows.DRAWN, believed, opened=False)
    assert said == "the section of Pit switch is not known to be clear"
    assert why("pit-switch", "bolt", Shows.SHUT, believed, opened=False) is None
    assert why("bare-switch", "bolt", Shows.DRAWN, {}, opened=False) is None, "it has no detector"


def test_what_an_output_can_not_show_and_outputs_that_are_not_there_are_named() -> None:
    said = why("pit-switch", "green", Shows.FLASHING, SAFE, opened=False)
    assert said == "Green lamp of Pit switch can't be flashing by hand, only steady or off"
    for of, output in [("pit", "bolt"), ("moon", "red"), ("pit-south-flag", "lamp")]:
        assert thing_of(LAYOUT, of, output) is None


def test_what_an_output_shows_has_a_word_of_its_own() -> None:
    words = {shows: shows_says(shows) for shows in Shows}
    assert words[Shows.STEADY] == "lit"
    assert len({*words.values()}) == len(Shows)


def test_every_output_is_called_by_a_name() -> None:
    names = {called(thing_of(LAYOUT, of, output), output) for of, output in EVERY}  # type: ignore[arg-type]
    assert len(names) == len(EVERY)
    assert {"Track power of Pit", "Bolt of Pit switch", "Lamp of Pit flag"} <= names
