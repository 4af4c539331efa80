"""The wire list and the parts list, against the layout and against what check prints."""

from __future__ import annotations

import random
import re
import sys
from collections import Counter
from math import ceil
from pathlib import Path

import pytest
from book_layouts import DEMO, LAYOUTS, Cells

from firmware_py.book.making import wiring_book
from firmware_py.book.parts import parts_of
from firmware_py.book.rows import letter, rows_of
from firmware_py.book.supplies import supplies_of
from firmware_py.layout.model import Layout, Role, outputs_of
from firmware_py.layout.reading import parse_layout
from firmware_py.layout.summary import pin_list
from firmware_py.wiring.boards import Expanders
from firmware_py.wiring.checks import electrical_figures
from firmware_py.wiring.figure import plain
from firmware_py.wiring.planning import plan_for
from firmware_py.wiring.putting import with_plan
from firmware_py.wiring.wires import wires_of

sys.path.append(str(Path(__file__).parents[1] / "wiring"))

from wiring_layouts import Maker

EACH = pytest.mark.parametrize("layout", LAYOUTS.values(), ids=LAYOUTS.keys())


def planned(seed: int) -> Layout:
    """A random layout, planned."""
    chance = random.Random(seed)
    text = Maker(chance).text(chance.randint(4, 70))
    made = plan_for(parse_layout(text, "random.toml"), Expanders.SPI)
    assert not made.reasons
    return parse_layout(with_plan(text, "random.toml", made), "random.toml")


def told_by_check(layout: Layout) -> dict[str, str]:
    """Label to pin, from the lines that ``spurlock check --pins`` prints."""
    _, *lines = pin_list(layout)
    pairs = (re.split(r"  +", line.strip(), maxsplit=1) for line in lines)
    return {label: pin for pin, label in pairs}


def see_whole(layout: Layout) -> None:
    page = wiring_book(layout, "layout.toml")
    rows = Cells(page).rows("wires")
    labels = [row[1] for row in rows]
    told = told_by_check(layout)
    assert sorted(labels) == sorted(told)
    for row in rows:
        _, pin = row[4].split("\n")[0].split(": ", 1)
        assert pin.split(" (")[0] == told[row[1]]


@EACH
def test_every_contact_and_output_is_in_the_list_once_with_checks_label_and_pin(
    layout: Layout,
) -> None:
    see_whole(layout)
    count = len(layout.contacts) + sum(len(outputs_of(thing)) for thing in layout.things)
    assert len(rows_of(layout)) == count


@pytest.mark.parametrize("seed", range(12))
def test_the_same_for_random_layouts(seed: int) -> None:
    see_whole(planned(seed))


@EACH
def test_wires_of_one_thing_have_different_colours_and_never_black_or_red(layout: Layout) -> None:
    seen: dict[str, list[str]] = {}
    for row in rows_of(layout):
        seen.setdefault(row.wire.thing, []).append(row.signal.value)
    for thing, colours in seen.items():
        assert len(colours) == len(set(colours)), thing
        assert not {"black", "red"} & set(colours)


def test_a_channel_of_a_driver_is_given_once() -> None:
    for layout in LAYOUTS.values():
        taken = [row.channel for row in rows_of(layout) if row.channel]
        assert len({(each.chip, each.number) for each in taken}) == len(taken)


def test_adding_a_bolt_moves_no_channel() -> None:
    before = parse_layout(
        '[[switch]]\nid = "a"\ncontacts = { hasp = 4, normal = 5, reverse = 6 }\nbolt = 13\n', "a"
    )
    after = parse_layout(
        '[[switch]]\nid = "b"\ncontacts = { hasp = 7, normal = 8, reverse = 16 }\nbolt = 9\n'
        '[[switch]]\nid = "a"\ncontacts = { hasp = 4, normal = 5, reverse = 6 }\nbolt = 13\n',
        "a",
    )
    old, new = (
        {row.label: row.channel for row in rows_of(layout) if row.channel}
        for layout in (before, after)
    )
    assert new["bolt of a"] == old["bolt of a"]


def test_letters() -> None:
    assert [letter(n) for n in (0, 25, 26, 27, 52, 702)] == ["A", "Z", "AA", "AB", "BA", "AAA"]


def test_a_lead_that_is_lit_by_a_low_level_has_red_at_its_back() -> None:
    rows = {row.label: row for row in rows_of(LAYOUTS["servo"])}
    assert rows["red of mole-switch"].back == "red"
    assert [c.value for c in rows["bolt of mole-switch"].wires] == ["red", "violet", "black"]


def counted(layout: Layout) -> Counter[str]:
    rows = rows_of(layout)
    found: Counter[str] = Counter()
    for item in parts_of(layout, rows, supplies_of(wires_of(layout), layout)):
        found[item.name] += item.count
    return found


def resistors(parts: Counter[str], value: str) -> int:
    return sum(n for name, n in parts.items() if name.startswith(f"resistor, {value},"))


@EACH
def test_contacts_and_lamps_are_counted_as_in_the_layout(layout: Layout) -> None:
    parts = counted(layout)
    roles = Counter(contact.role for contact in layout.contacts)
    assert parts["micro switch"] == 2 * roles[Role.HASP] + sum(
        roles[role] for role in (Role.NORMAL, Role.REVERSE, Role.ON, Role.HOOK)
    )
    assert parts["push button, normally open"] == roles[Role.BUTTON]
    assert parts["reed switch"] == parts["magnet for a reed switch"]
    assert parts["reed switch"] == roles[Role.SHUT] + roles[Role.RACK]
    detectors = roles[Role.DETECTOR] + roles[Role.FOULING]
    assert parts["detector with an opto-coupler output"] == detectors
    keys = Counter(key for thing in layout.things for key, _ in outputs_of(thing))
    flags = sum(flag.lamp is not None for flag in layout.flags)
    assert parts["red LED"] == keys["red"]
    assert parts["green LED"] == keys["green"]
    assert parts["blue LED"] == flags
    assert parts["white LED"] == keys["white"] + keys["lamp"] - flags
    assert parts["buzzer that sounds on plain DC"] == keys["buzzer"]
    assert parts["relay for track power, normally open contact"] == keys["power"]
    ends = 2 * (len(layout.contacts) + sum(keys.values()))
    assert parts["label, with the wire's name, for each end of a lead"] == ends


def test_the_demos_electronics_are_counted_by_hand() -> None:
    """From the demo's table: 24 snapping contacts, 5 reeds, 18 detectors, 27 outputs, 6 chips."""
    parts = counted(DEMO)
    driven = 9 + 3 + 3  # White and blue lamps; bolt, buzzer, track power.
    assert resistors(parts, "2.2 kΩ") == 24
    assert resistors(parts, "10 kΩ") == 5 + 18 + driven + 6
    assert resistors(parts, "470 Ω") == resistors(parts, "430 Ω") == 6
    assert resistors(parts, "180 Ω") == 12
    assert resistors(parts, "100 Ω") == parts["N-MOSFET, fully on at 2.5 V"] == 12
    assert parts["capacitor, 100 nF"] == parts["MCP23S17"] == parts["socket, 28 legs"] == 6
    assert parts["ULN2803A"] == 1
    assert parts["fuse, 0.16 A, with its holder"] == parts["fuse, 0.315 A, with its holder"] == 1


def test_long_leads_have_their_filters_counted() -> None:
    layout = LAYOUTS["varied"]
    parts = counted(layout)
    contacts = len(layout.contacts)
    assert resistors(parts, "1 kΩ") == contacts + 1  # And the inverter of the green lamp.
    assert parts["capacitor, 100 nF"] == contacts + 2  # And one at each described chip.
    assert parts["TVS diode for 3.3 V lines"] == contacts
    assert parts["input/output chip other"] == 1


@EACH
def test_wire_by_colour_is_what_the_list_shows(layout: Layout) -> None:
    shown: Counter[str] = Counter()
    for row in Cells(wiring_book(layout, "x")).rows("wires"):
        metres = float(row[5].removesuffix(" m"))
        for colour in re.findall(
            "black|brown|red|orange|yellow|green|blue|violet|grey|white|pink|turquoise", row[3]
        ):
            shown[colour] += metres
    parts = counted(layout)
    for colour, metres in shown.items():
        (bought,) = (n for name, n in parts.items() if name.startswith(f"wire, {colour},"))
        assert bought == ceil(metres * 1.1 - 1e-9)
    assert len(shown) == sum(name.startswith("wire, ") for name in parts)


@EACH
def test_supplies_are_those_of_the_electrical_figures(layout: Layout) -> None:
    told = {
        figure.about: figure.value
        for figure in electrical_figures(layout)
        if figure.what == "supply, and the fuse of each branch"
    }
    made = {}
    for each in supplies_of(wires_of(layout), layout):
        count = "one branch" if each.branches == 1 else f"{each.branches} branches"
        made[each.name] = f"{plain(each.amperes, 'A')} or more; {count}, fuse {each.fuse_a:g} A"
    assert made == told
