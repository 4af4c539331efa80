"""A running engine whose stand hangs on expanders: real threads, modelled chips."""

from __future__ import annotations

import random
from collections.abc import Callable
from pathlib import Path

import pytest
from expander_model import Expander, FakeSmbus, Wires
from pins_fake_gpio import FakeChip, header_chip, kernel_of
from pytest_mock import MockerFixture
from trouble_shift import TOML, Shift, until

from firmware_py.core.names import Shows
from firmware_py.engine.assembly import Plant, Settings
from firmware_py.layout.model import MADE_AT_REST, ChipLine, HeaderPin
from firmware_py.layout.reading import parse_layout
from firmware_py.pins.chardev import CharDevFactory
from firmware_py.pins.wiring import PinsError

Begin = Callable[..., Shift]

ON_CHIPS = (
    TOML.replace("settle = 0.004", "settle = 0.02").replace(
        "green = 22, red = 23, white = 27", 'green = "box:7", red = "box:15", white = "lid:7"'
    )
    + """
[[chip]]
id = "box"
kind = "mcp23017"
address = 0x20

[[chip]]
id = "lid"
kind = "mcp23017"
address = 0x27
"""
)
NAMES = ("hasp", "normal", "reverse")
"""The mine switch's contacts, on lines 0 to 2 of the box."""


@pytest.fixture
def header() -> FakeChip:
    return header_chip()


@pytest.fixture
def wires(mocker: MockerFixture, header: FakeChip) -> Wires:
    """Two modelled chips on the bus, all contacts at rest: made is low."""
    chips = {"box": Expander(0x20), "lid": Expander(0x27)}
    for contact in parse_layout(ON_CHIPS, "gravel.toml").contacts:
        level = contact.role not in MADE_AT_REST
        if isinstance(contact.pin, ChipLine):
            chips[contact.pin.chip].pull(contact.pin.line, level)
        elif isinstance(contact.pin, HeaderPin):
            header.levels[contact.pin.bcm] = level
    wires = Wires(*chips.values())
    mocker.patch("firmware_py.pins.expanders.i2c.SMBus", side_effect=lambda path: FakeSmbus(wires))
    mocker.patch(
        "firmware_py.engine.wires.CharDevFactory",
        side_effect=lambda: CharDevFactory(kernel_of(header), resync_s=0.05),
    )
    return wires


@pytest.fixture
def box(wires: Wires) -> Expander:
    return wires.chips[0x20]


def test_a_stand_on_expanders_is_led_as_any_other(
    begin: Begin, tmp_path: Path, box: Expander, wires: Wires
) -> None:
    shift = begin(tmp_path, simulated=False, toml=ON_CHIPS)
    assert shift.shows("mine-switch", "green") is Shows.STEADY
    until(lambda: (box.lit(7), box.lit(15)) == (True, False))
    box.pull(0, True)
    until(lambda: shift.core.settled()["mine-switch.hasp"] is False)
    assert shift.shows("mine-switch", "green") is Shows.OFF
    until(lambda: box.lit(7) is False)
    box.pull(0, False)
    until(lambda: shift.core.settled()["mine-switch.hasp"] is True)
    shift.nothing_lost()
    shift.plant.end_session()
    until(lambda: not shift._thread.is_alive())
    assert (box.lit(7), box.lit(15)) == (False, True), "red stays lit, green dark"
    assert wires.closed == 1


def test_an_expander_taken_away_and_brought_back(
    begin: Begin, tmp_path: Path, box: Expander
) -> None:
    shift = begin(tmp_path, simulated=False, toml=ON_CHIPS)
    box.present = False
    until(lambda: [shift.core.settled()[f"mine-switch.{name}"] for name in NAMES] == [None] * 3)
    assert shift.shows("pit-switch", "green") is Shows.STEADY, "the header's go on"
    shift.until_said("chip box: does not answer")
    assert {fault["fault"] for fault in shift.board_shows()["faults"]} == {"lost"}
    box.reset()
    box.present = True
    until(lambda: shift.core.settled()["mine-switch.hasp"] is True)
    assert shift.shows("mine-switch", "green") is Shows.STEADY
    until(lambda: (box.lit(7), box.lit(15)) == (True, False))
    shift.until_said("chip box works again")
    assert shift.violations() == [], "no crew is blamed"
    shift.nothing_lost()


def test_a_brown_out_blames_nobody(begin: Begin, tmp_path: Path, box: Expander) -> None:
    shift = begin(tmp_path, simulated=False, toml=ON_CHIPS)
    for times in range(1, 4):
        box.reset()
        # Without their pull-ups the open lines read as closed, all at once.
        for line in range(7):
            if box.outside.get(line):
                box.pull(line, None)
        until(lambda times=times: _tally(shift) == times)
        until(lambda: shift.core.settled()["mine-switch.hasp"] is True)
        assert shift.shows("mine-switch", "green") is Shows.STEADY
        until(lambda: (box.lit(7), box.lit(15)) == (True, False))
    shift.until_said("chip box: lost its settings and was set up again")
    assert shift.violations() == []
    assert not shift.core.faults()
    shift.nothing_lost()


def _tally(shift: Shift) -> int:
    return sum(trouble.times for trouble in shift.board.troubles() if trouble.at == "chip box")


def test_noise_on_the_bus_is_no_fault(
    begin: Begin, tmp_path: Path, box: Expander, wires: Wires
) -> None:
    shift = begin(tmp_path, simulated=False, toml=ON_CHIPS)
    dice = random.Random(2)
    wires.noise = lambda: dice.random() < 0.05
    before = wires.transactions
    until(lambda: wires.transactions > before + 400)
    wires.noise = lambda: False
    shift.until_said("chip box: answered only when it was asked again")
    assert shift.violations() == []
    assert not [line for line in shift.logged() if line.get("fault") == "lost"]
    assert shift.shows("mine-switch", "green") is Shows.STEADY


def test_without_its_bus_the_engine_does_not_begin_and_says_why(tmp_path: Path) -> None:
    layout = tmp_path / "gravel.toml"
    layout.write_text(ON_CHIPS.replace("address = 0x20", "address = 0x20\nbus = 31"), "utf-8")
    with pytest.raises(PinsError, match=r"chip box .* /dev/i2c-31 is not there; turn I2C on"):
        Plant(Settings(layout, str(tmp_path / "gravel.sqlite"), simulated=False))
