"""Silent rules and advice. Pin facts: Raspberry Pi's documentation of the 40-pin header."""

import pytest

from firmware_py.core.names import Rule
from firmware_py.layout.advice import advice_on
from firmware_py.layout.reading import parse_layout
from firmware_py.layout.silence import silent_rules

BARE = """
[[switch]]
id = "pit-switch"
contacts = { hasp = 4, normal = 5, reverse = 6 }
[[spur]]
id = "pit"
switch = "pit-switch"
grade_percent = 0.5
[[gate]]
id = "pit-gate"
spur = "pit"
contacts = { shut = 12 }
[[derail]]
id = "pit-derail"
spur = "pit"
contacts = { on = 13 }
[[flag]]
id = "pit-flag"
spur = "pit"
contacts = { rack = 16 }
"""

FULL = """
[[switch]]
id = "pit-switch"
key = "pit-key"
contacts = { hasp = 4, normal = 5, reverse = 6, detector = 7 }
[[spur]]
id = "pit"
switch = "pit-switch"
contacts = { detector = 8, fouling = 9 }
grade_percent = 2
[[gate]]
id = "pit-gate"
spur = "pit"
key = "pit-key"
contacts = { hasp = 10, shut = 11, detector = 12 }
[[derail]]
id = "pit-derail"
spur = "pit"
contacts = { hasp = 13, on = 16, detector = 17 }
[[flag]]
id = "pit-flag"
spur = "pit"
contacts = { rack = 18 }
[[chock]]
id = "pit-chock"
spur = "pit"
contacts = { rack = 19 }
[[key]]
id = "pit-key"
contacts = { hook = 20 }
[[trap]]
id = "pit-trap"
first = "pit-switch.detector"
second = "pit.detector"
distance_mm = 300
limit_mph = 10
"""


def silent(text: str) -> set[tuple[str, str]]:
    found = silent_rules(parse_layout(text, "f"))
    return {(one.thing, rule) for one in found for rule in one.rules}


def advised(text: str) -> dict[str, str]:
    return {piece.about: piece.text for piece in advice_on(parse_layout(text, "f"))}


def test_a_layout_with_everything_fitted_has_no_silent_rule_and_no_advice() -> None:
    assert silent(FULL) == set()
    assert advised(FULL) == {}


def test_a_bare_layout_says_which_rules_are_silent_where() -> None:
    assert silent(BARE) == {
        ("pit-switch", "key-on-hook"),
        ("pit-switch", "thrown-under-train"),
        ("pit-switch", "entered-gapped-points"),
        ("pit", "moved-under-flag"),
        ("pit", "moved-in-brake-test"),
        ("pit", "lined-behind-early"),
        ("pit", "left-foul"),
        ("pit", "left-unchocked"),
        ("pit-gate", "gate-forced"),
        ("pit-gate", "gate-locked-open"),
        ("pit-gate", "key-on-hook"),
        ("pit-gate", "through-gate"),
        ("pit-derail", "derail-forced"),
        ("pit-derail", "over-derail"),
    }


def test_switch_without_padlock_chock_without_detector_trap_without_limit() -> None:
    text = FULL.replace('key = "pit-key"\ncontacts = { hasp = 4,', 'lock = "none"\ncontacts = {')
    text = text.replace("limit_mph = 10", "").replace("detector = 8, ", "")
    text = text.replace('"pit.detector"', '"pit.fouling"')
    assert silent(text) == {
        ("pit-switch", "moved-while-locked"),
        ("pit-switch", "locked-off-normal"),
        ("pit-switch", "left-unlocked"),
        ("pit-switch", "key-on-hook"),
        ("pit", "pulled-against-chock"),
        ("pit-trap", "over-speed"),
    }
    assert "no padlock" in advised(text)["pit-switch"]


def test_every_silent_rule_is_a_rule() -> None:
    assert {rule for _, rule in silent(BARE)} <= {rule.value for rule in Rule}


def test_a_graded_spur_without_a_chock_is_advised_one() -> None:
    assert "no chock" in advised(BARE)["pit"]
    assert "pit" not in advised(BARE.replace("grade_percent = 0.5", "grade_percent = 0.4"))


@pytest.mark.parametrize(
    ("old", "new", "about", "fragment"),
    [
        ("rack = 18", "rack = 2", "pit-flag.rack", "fixed pull-up"),
        ("rack = 18", "rack = 3", "pit-flag.rack", "fixed pull-up"),
        ("rack = 18", "rack = 14", "pit-flag.rack", "serial console"),
        ("rack = 18", "rack = 15", "pit-flag.rack", "serial console"),
        ("grade_percent", "power = 14\ngrade_percent", "power of pit", "goes high while"),
        ("grade_percent", "power = 15\ngrade_percent", "power of pit", "serial console"),
        ("grade_percent", "power = 3\ngrade_percent", "power of pit", "pulled up at power-on"),
        (
            "grade_percent",
            "power = { pin = 21, inverted = true, accept_blip = true }\ngrade_percent",
            "power of pit",
            "active-high",
        ),
        ("rack = 18", 'rack = "auto"', "auto", "no pin yet for pit-flag.rack"),
        ("rack = 18", 'rack = "gpiochip0:18"', "pit-flag.rack", "write the bare number"),
        ("rack = 18", 'rack = "io:18"', "pit-gate.shut", "SPI"),
        ("hook = 20 }", 'hook = 20 }\n[[key]]\nid = "k"\ncontacts.hook = 21', "k", "opens nothing"),
    ],
)
def test_advice(old: str, new: str, about: str, fragment: str) -> None:
    assert fragment in advised(FULL.replace(old, new, 1))[about]


def test_a_switch_without_a_spur_and_a_bolt_without_a_hasp() -> None:
    text = FULL + (
        '[[switch]]\nid = "far"\nlock = "none"\nbolt = 22\n'
        "contacts = { normal = 23, reverse = 24 }\n"
    )
    found = [piece.text for piece in advice_on(parse_layout(text, "f")) if piece.about == "far"]
    assert [word in text for word, text in zip(("padlock", "hasp", "no spur"), found, strict=True)]


def test_more_lamps_than_the_header_can_feed() -> None:
    """50 mA over all pins, about 3 mA for a lamp: sixteen."""
    flags = "".join(
        f'[[flag]]\nid = "f{pin}"\nspur = "pit"\nlamp = {pin}\ncontacts.rack = "auto"\n'
        for pin in (*range(9, 12), *range(14, 28))
    )
    text = BARE.replace("= 12", '= "auto"').replace("= 13", '= "auto"').replace("= 16", '= "auto"')
    assert "17 lamps hang on the header" in advised(text + flags)["outputs"]
