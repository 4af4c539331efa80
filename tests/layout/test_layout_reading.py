"""What a sound layout file becomes; the contract is sections 1, 2, 6, 8 and 11 of the rulebook."""

from dataclasses import replace

import pytest

from firmware_py.layout.errors import LayoutError
from firmware_py.layout.model import (
    ChipLine,
    Contact,
    ForemanKind,
    HeaderPin,
    Layout,
    Lock,
    Output,
    Role,
    Times,
)
from firmware_py.layout.reading import parse_layout

SWITCH = """
[[switch]]
id = "pit-switch"
contacts = { hasp = 4, normal = 5, reverse = 6 }
"""

SPUR = """
[[spur]]
id = "pit"
switch = "pit-switch"
"""


def read(text: str) -> Layout:
    return parse_layout(text, "layout.toml")


def test_smallest_layout_takes_every_default() -> None:
    layout = read(SWITCH + SPUR)
    assert layout.name == "Layout"
    assert (layout.scale, layout.ratio) == ("HO", 87.1)
    assert (layout.chock_from_percent, layout.clock_ratio) == (0.5, 6.0)
    assert layout.times == Times()
    switch, spur = layout.switches[0], layout.spurs[0]
    assert (switch.name, switch.lock, switch.key) == ("Pit switch", Lock.PADLOCK, None)
    assert switch.normal == Contact("pit-switch", Role.NORMAL, HeaderPin(5), 20_000, 20_000)
    assert switch.detector is None
    assert (spur.foreman, spur.grade_percent) == (ForemanKind.NONE, 0.0)
    assert spur.foreman_us == (20_000_000, 60_000_000)
    assert spur.opening == spur.closing == ("pit-switch",)


def test_default_orders_go_by_kind_and_then_by_file_order() -> None:
    protections = "".join(
        f'[[{kind}]]\nid = "{name}"\nspur = "pit"\ncontacts = {{ {role} = "auto" }}\n'
        for kind, name, role in (
            ("chock", "c2", "rack"),
            ("gate", "g", "shut"),
            ("flag", "f2", "rack"),
            ("derail", "d", "on"),
            ("flag", "f1", "rack"),
            ("chock", "c1", "rack"),
        )
    )
    spur = read(SWITCH + SPUR + 'foreman = "auto"\n' + protections).spurs[0]
    assert spur.opening == ("foreman", "f2", "f1", "pit-switch", "d", "g", "c2", "c1")
    assert spur.closing == ("c2", "c1", "g", "d", "foreman", "f2", "f1", "pit-switch")


def test_two_spurs_may_share_a_switch() -> None:
    layout = read(SWITCH + SPUR + SPUR.replace('id = "pit"', 'id = "heap"'))
    assert [spur.opening for spur in layout.spurs] == [("pit-switch",), ("pit-switch",)]


@pytest.mark.parametrize(
    ("written", "contact"),
    [
        ("7", Contact("pit", Role.FOULING, HeaderPin(7), 30_000, 30_000)),
        ('"io-a:12"', Contact("pit", Role.FOULING, ChipLine("io-a", 12), 30_000, 30_000)),
        ('"auto"', Contact("pit", Role.FOULING, None, 30_000, 30_000)),
        (
            "{ pin = 7, settle = 0.5, inverted = true }",
            Contact("pit", Role.FOULING, HeaderPin(7), 500_000, 500_000, inverted=True),
        ),
        ("{ pin = 7, settle = 0 }", Contact("pit", Role.FOULING, HeaderPin(7), 0, 0)),
    ],
)
def test_forms_of_a_contact(written: str, contact: Contact) -> None:
    text = f"[times]\nsettle = 0.03\n{SWITCH}{SPUR}contacts = {{ fouling = {written} }}\n"
    assert read(text).spurs[0].fouling == contact


def test_a_detector_clears_late_whatever_its_own_settle() -> None:
    text = (
        f"[times]\nclear_after = 3\n{SWITCH}{SPUR}contacts.detector = {{ pin = 7, settle = 0.5 }}\n"
    )
    detector = read(text).spurs[0].detector
    assert detector is not None
    assert (detector.settle_us, detector.clear_us) == (500_000, 3_000_000)


@pytest.mark.parametrize(
    ("written", "output"),
    [
        ("17", Output(HeaderPin(17))),
        ('"relays:3"', Output(ChipLine("relays", 3))),
        ('"auto"', Output(None)),
        ("{ pin = 17, inverted = true, accept_blip = true }", Output(HeaderPin(17), inverted=True)),
    ],
)
def test_forms_of_an_output(written: str, output: Output) -> None:
    assert read(f"{SWITCH}{SPUR}power = {written}\n").spurs[0].power == output


def test_auto_may_repeat_and_is_no_pin() -> None:
    text = SWITCH.replace("= 4", '= "auto"').replace("= 5", '= "auto"').replace("= 6", '= "auto"')
    assert [contact.pin for contact in read(text).contacts] == [None, None, None]


def test_spelling_of_tables_makes_no_difference() -> None:
    inline = 'switch = [{ id = "pit-switch", contacts = { hasp = 4, normal = 5, reverse = 6 } }]'
    dotted = '[[switch]]\nid="pit-switch"\n[switch.contacts]\nhasp=4\nnormal=5\nreverse=6'
    assert read(inline) == read(dotted) == read(SWITCH) == read(SWITCH.replace("\n", "\r\n"))


def test_times_are_whole_microseconds() -> None:
    times = read("[times]\nsettle = 0.0000014\nthrow = 0.1\n" + SWITCH).times
    assert times == replace(Times(), settle_us=1, throw_us=100_000)
    assert type(times.throw_us) is int


def test_trap_limit_in_kilometres() -> None:
    """The international mile is 1609.344 m exactly."""
    text = SWITCH.replace("reverse = 6", "reverse = 6, detector = 7") + (
        SPUR + "contacts.fouling = 8\n"
        '[[trap]]\nid = "t"\nfirst = "pit-switch.detector"\nsecond = "pit.fouling"\n'
        "distance_mm = 305\nlimit_kmh = 16.09344\n"
    )
    assert read(text).traps[0].limit_mph == pytest.approx(10.0, rel=1e-12)


@pytest.mark.parametrize(
    ("written", "scale", "ratio"),
    [
        ('scale = "N"', "N", 160.0),
        ('scale = "H0"', "H0", 87.0),
        ('scale = "O"', "O", 48.0),
        ('scale = "0"', "0", 45.0),
        ("ratio = 43.5", None, 43.5),
        ("ratio = 87.1", None, 87.1),
    ],
)
def test_scales(written: str, scale: str | None, ratio: float) -> None:
    """NMRA S-3.2 and RP-3 (N 1:160, O 1:48), NEM 010 (H0 1:87, 0 1:45)."""
    layout = read(f"[layout]\n{written}\n{SWITCH}")
    assert (layout.scale, layout.ratio) == (scale, ratio)


@pytest.mark.parametrize("pin", [2, 27])
def test_the_ends_of_the_header_may_be_used(pin: int) -> None:
    assert read(SWITCH.replace("= 4", f"= {pin}")).contacts[0].pin == HeaderPin(pin)


@pytest.mark.parametrize("pin", [0, 1, 28])
def test_pins_beyond_them_may_not(pin: int) -> None:
    """GPIO 0 and 1 are the EEPROM's on the 40-pin header, which ends at GPIO 27."""
    with pytest.raises(LayoutError, match=rf"layout\.toml:4: .*GPIO {pin}"):
        read(SWITCH.replace("= 4", f"= {pin}"))


def test_a_multi_line_text_does_not_shift_lines() -> None:
    text = '# "\n[layout] # [[x]]\nname = """\\\n   A \\" [[b]] name"""\n' + SWITCH + "bogus = 1\n"
    with pytest.raises(LayoutError, match=r'layout\.toml:9: .*unknown key "bogus"'):
        read(text)
