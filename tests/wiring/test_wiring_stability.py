"""Adding things moves nothing; comments, order and every other character stay."""

from __future__ import annotations

import random
import re

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from wiring_layouts import Maker, random_layout

from firmware_py.layout.advice import advice_on
from firmware_py.layout.model import HeaderPin, Layout
from firmware_py.layout.reading import parse_layout
from firmware_py.wiring.boards import Expanders
from firmware_py.wiring.planning import Plan, board_of, plan_for
from firmware_py.wiring.putting import PutError, with_plan
from firmware_py.wiring.wires import wires_of

KINDS = st.sampled_from([Expanders.I2C, Expanders.SPI])


def pins_of(layout: Layout) -> dict[str, object]:
    return {wire.name: wire.pin for wire in wires_of(layout) if wire.pin is not None}


def planned(text: str, expanders: Expanders = Expanders.I2C) -> tuple[str, Plan]:
    plan = plan_for(parse_layout(text, "f"), expanders)
    assert not plan.reasons, plan.reasons
    return with_plan(text, "f", plan), plan


def small(seed: int) -> str:
    maker = Maker(random.Random(seed), coils=0.2)
    return maker.text(random.Random(seed).randint(4, 50))


def addition(seed: int) -> str:
    """Another stand, with ids of its own, and nothing that only the header takes."""
    maker = Maker(random.Random(seed), coils=0.0)
    return "\n".join(maker.stand(900 + seed % 90, 20))


@settings(max_examples=60, deadline=None)
@given(st.integers(0, 10_000), st.lists(st.integers(0, 89), unique=True, max_size=4), KINDS)
def test_adding_things_moves_nothing(seed: int, added: list[int], expanders: Expanders) -> None:
    text, _ = planned(small(seed), expanders)
    for one in added:
        before = parse_layout(text, "f")
        text, plan = planned(f"{text}\n{addition(one)}", expanders)
        after = parse_layout(text, "f")
        assert pins_of(before).items() <= pins_of(after).items()
        assert before.chips == after.chips[: len(before.chips)]
        assert {wire.name for wire in plan.placed}.isdisjoint(pins_of(before))


@settings(max_examples=40, deadline=None)
@given(st.integers(0, 10_000), KINDS)
def test_a_thing_in_the_middle_of_the_file_moves_nothing_either(
    seed: int, expanders: Expanders
) -> None:
    text, _ = planned(small(seed), expanders)
    at = text.index("[[switch]]")
    grown, _ = planned(f"{text[:at]}{addition(seed % 90)}\n{text[at:]}", expanders)
    assert pins_of(parse_layout(text, "f")).items() <= pins_of(parse_layout(grown, "f")).items()


@settings(max_examples=60, deadline=None)
@given(st.integers(0, 10_000), st.sampled_from(["\n", "\r\n"]))
def test_only_autos_are_changed_and_chips_are_added_at_the_end(seed: int, end: str) -> None:
    text = small(seed).replace("\n", end)
    new, plan = planned(text)
    old_lines, new_lines = text.split(end), new.split(end)
    for old, changed in zip(old_lines[:-1], new_lines, strict=False):
        if old != changed:
            pattern = re.escape(old).replace('"auto"', r'(?:\d+|"io-\d+:\d+")')
            assert re.fullmatch(pattern, changed), (old, changed)
            assert '"auto"' in old
    tail = end.join(new_lines[len(old_lines) - 1 :])
    assert tail.count("[[chip]]") == len(plan.chips) == new.count("[[chip]]")
    assert new.count(end) == new.count("\n")
    assert planned(new)[0] == new


@settings(max_examples=60, deadline=None)
@given(st.integers(0, 10_000))
def test_a_new_plan_deserves_no_advice_on_its_pins(seed: int) -> None:
    layout = parse_layout(planned(small(seed))[0], "f")
    wires = {wire.name for wire in wires_of(layout)}
    assert not [one for one in advice_on(layout) if one.about in {*wires, "auto", "outputs"}]


ODD = """\
# A file with everything that a rewriter could lose.
[layout]
name = "Odd"   # said "auto" here

[[switch]] # first
id = "a-switch"
lock = 'none'
[switch.contacts]   # a table of its own
normal = 'auto'     # single quotes
reverse = { pin = "auto", settle = 0.05 } # "auto"

[[spur]]
id = "a"
switch = "a-switch"
power = "auto"

[[switch]]
id = "b-switch"
lock = "none"
contacts.normal = "auto"
contacts.reverse = "au\\u0074o"
lamps = { green = "auto", red = {pin="auto",inverted=true} }
# between

[[spur]]
id = "auto"
name = \"\"\"auto\"\"\"
switch = "b-switch"

[[flag]]
id = "f"
spur = "a"
contacts = { rack = "auto" }
lamp = 5 # wired"""

ODD_BAD = ODD.replace("lamp = 5", "lamp = { pin = 5, inverted = true }")


def test_an_odd_file_keeps_everything() -> None:
    new, plan = planned(ODD_BAD)
    assert len(plan.placed) == 8
    kept = [line.partition(" =")[0] for line in ODD_BAD.splitlines()]
    assert [line.partition(" =")[0] for line in new.splitlines()] == kept
    for comment in ("# first", "# single quotes", '# "auto"', "# between", 'said "auto" here'):
        assert comment in new
    assert 'name = """auto"""' in new
    assert 'id = "auto"' in new
    assert "# wired" in new


def test_a_file_that_is_not_what_was_planned_is_refused() -> None:
    plan = plan_for(parse_layout(ODD_BAD, "f"))
    with pytest.raises(PutError, match="not found"):
        with_plan(ODD_BAD.replace('power = "auto"', "power = 27"), "f", plan)


def test_a_stand_stays_together() -> None:
    """Four stands of ten wires: one on the header's plain pins or on a chip, none torn apart."""
    rows = "".join(
        f'[[switch]]\nid = "s{n}-switch"\ncontacts = {{ hasp = "auto", normal = "auto", '
        f'reverse = "auto", detector = "auto", button = "auto" }}\n'
        f'lamps = {{ green = "auto", red = "auto", white = "auto" }}\n'
        f'[[spur]]\nid = "s{n}"\nswitch = "s{n}-switch"\ncontacts = {{ detector = "auto" }}\n'
        f'[[flag]]\nid = "s{n}-flag"\nspur = "s{n}"\ncontacts = {{ rack = "auto" }}\n'
        for n in range(4)
    )
    plan = plan_for(parse_layout(rows, "f"))
    assert plan.split == ()
    boards: dict[str, set[str | None]] = {}
    for wire in plan.wires:
        boards.setdefault(wire.stand, set()).add(board_of(wire.pin))
    assert all(len(found) == 1 for found in boards.values())
    assert all(boards[f"s{n}"] == boards[f"s{n}-switch"] for n in range(3))


def test_a_button_added_to_a_stand_goes_where_the_stand_is() -> None:
    text, _ = planned(random_layout(13)[0])
    layout = parse_layout(text, "f")
    switch = next(
        s for s in layout.switches if not s.button and not isinstance(s.normal.pin, HeaderPin)
    )
    grown = text.replace(f'id = "{switch.id}"\n', f'id = "{switch.id}"\nbuzzer = "auto"\n', 1)
    if grown.count("buzzer") > text.count("buzzer") and switch.buzzer is None:
        new = parse_layout(planned(grown)[0], "f")
        (after,) = [s for s in new.switches if s.id == switch.id]
        assert after.buzzer
        assert after.normal == switch.normal


def test_inverted_coils_are_refused_with_the_reason() -> None:
    text = ODD.replace(
        'power = "auto"', 'power = { pin = "auto", inverted = true, accept_blip = true }'
    )
    plan = plan_for(parse_layout(text, "f"))
    assert plan.reasons
    assert "active-high driver" in plan.reasons[0]


def test_too_many_coils_say_how_many_pins_there_are() -> None:
    rows = "".join(
        f'[[switch]]\nid = "s{n}"\nlock = "none"\nbolt = "auto"\n'
        'contacts = { normal = "auto", reverse = "auto" }\n'
        for n in range(18)
    )
    plan = plan_for(parse_layout(rows, "f"))
    assert plan.reasons[0].startswith(
        "18 outputs need pins whose boot pull is down; only 17 are free"
    )


def test_lamps_beyond_the_headers_current_say_so() -> None:
    """17 lamps of 3 mA are more than 50 mA; Raspberry Pi documentation."""
    rows = "".join(
        f'[[switch]]\nid = "s{n}"\nlock = "none"\ncontacts = {{ normal = "x:{n}", '
        f'reverse = "y:{n}" }}\nlamps = {{ red = "auto" }}\n'
        for n in range(17)
    )
    plan = plan_for(parse_layout(rows, "f"), Expanders.NONE)
    assert "50 mA" in plan.reasons[0]
    driven = plan_for(parse_layout(f"[wiring]\nsupply_v = 5\n{rows}", "f"), Expanders.NONE)
    assert not driven.reasons


def test_a_taken_bus_is_named() -> None:
    rows = random_layout(1)[0]
    text = rows.replace('normal = "auto"', "normal = 3", 1)
    plan = plan_for(parse_layout(text, "f"))
    assert any("GPIO 2 and 3" in reason for reason in plan.reasons)


def test_a_lamp_never_takes_a_pin_that_is_pulled_up_at_boot() -> None:
    """GPIO 0 to 8 are pulled up at power-on (Raspberry Pi documentation, "Power-on states")."""
    kept = [*range(9, 14), *range(16, 28)]
    text = (
        f'[wiring]\nkeep = {kept}\n[[switch]]\nid = "s"\nlock = "none"\n'
        'contacts = { normal = 4, reverse = 5 }\nlamps = { red = "auto" }\n'
    )
    (red,) = plan_for(parse_layout(text, "f")).placed
    assert board_of(red.pin) == "io-1"
    assert plan_for(parse_layout(text, "f"), Expanders.NONE).reasons
