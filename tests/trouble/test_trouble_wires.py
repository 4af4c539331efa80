"""Trouble with contacts, chips and floods of readings under a running engine."""

from __future__ import annotations

import threading
import time
from collections.abc import Callable
from pathlib import Path

import pytest
from pins_fake_gpio import FakeChip, header_chip, kernel_of
from pytest_mock import MockerFixture
from trouble_shift import TOML, Shift, until, waiting_for

from firmware_py.core.names import Shows
from firmware_py.engine.inflow import ROOM
from firmware_py.layout.model import MADE_AT_REST, ChipLine, HeaderPin
from firmware_py.layout.reading import parse_layout
from firmware_py.pins.chardev import CharDevFactory

Begin = Callable[..., Shift]


def at_rest(*chips: FakeChip) -> None:
    """Pull the lines of the layout's contacts as at a spur at rest: made is low."""
    header, box = chips
    for contact in parse_layout(TOML, "gravel.toml").contacts:
        chip = box if isinstance(contact.pin, ChipLine) else header
        assert isinstance(contact.pin, ChipLine | HeaderPin)
        line = contact.pin.line if isinstance(contact.pin, ChipLine) else contact.pin.bcm
        chip.levels[line] = contact.role not in MADE_AT_REST


@pytest.fixture
def chips(mocker: MockerFixture) -> tuple[FakeChip, FakeChip]:
    """The header's chip and an expander, in the place of the kernel's."""
    header, box = header_chip(), FakeChip("gpiochip2", "box", 16)
    at_rest(header, box)
    mocker.patch(
        "firmware_py.engine.wires.CharDevFactory",
        side_effect=lambda: CharDevFactory(kernel_of(header, box), resync_s=0.05),
    )
    return header, box


def test_a_chip_that_stops_answering_and_comes_back(
    begin: Begin, tmp_path: Path, chips: tuple[FakeChip, FakeChip]
) -> None:
    _, box = chips
    shift = begin(tmp_path, simulated=False)
    assert shift.shows("mine-switch", "green") is Shows.STEADY
    box.die()
    until(lambda: shift.core.settled()["mine-switch.hasp"] is None)
    assert shift.shows("mine-switch", "green") is Shows.OFF
    assert shift.shows("mine-switch", "red") is Shows.STEADY
    assert shift.shows("pit-switch", "green") is Shows.STEADY, "the other chip's go on"
    shift.until_said("box")
    assert {fault["fault"] for fault in shift.board_shows()["faults"]} == {"lost"}
    box.come_back()
    until(lambda: shift.core.settled()["mine-switch.hasp"] is True)
    assert shift.shows("mine-switch", "green") is Shows.STEADY
    shift.until_said("box works again")
    shift.nothing_lost()
    assert shift.violations() == [], "no crew is blamed"
    said = [text for text in shift.remarks() if text.startswith("box")]
    assert len(said) == 2, said


def test_a_wire_of_a_lamp_that_fails_is_told_of_once_and_mends(
    begin: Begin, tmp_path: Path, chips: tuple[FakeChip, FakeChip], mocker: MockerFixture
) -> None:
    header, _ = chips
    shift = begin(tmp_path, simulated=False)
    write = header.set_output

    def refuse(offset: int, level: bool) -> None:
        if offset == 21:
            raise OSError(5, "Input/output error")
        write(offset, level)

    mocker.patch.object(header, "set_output", refuse)
    header.pull(5, True)
    until(lambda: shift.board.shown()["pit-switch", "red"] is Shows.FLASHING)
    shift.until_said("pit-switch.red", "Input/output error")
    mocker.stopall()
    shift.until_said("pit-switch.red works again")
    header.pull(5, False)
    assert shift.shows("pit-switch", "red") is Shows.FLASHING
    shift.nothing_lost()


def test_a_stuck_contact(begin: Begin, tmp_path: Path) -> None:
    shift = begin(tmp_path)
    shift.hand("pit-switch.reverse", True)
    assert shift.shows("pit-switch", "green") is Shows.OFF
    assert shift.shows("pit-switch", "bolt") is Shows.SHUT
    assert shift.shows("pit", "power") is Shows.OFF
    until(lambda: [fault["fault"] for fault in shift.board_shows()["faults"]])
    [fault] = shift.board_shows()["faults"]
    assert "stuck" in fault["says"]
    shift.hand("pit-switch.reverse", False)
    until(lambda: not shift.board_shows()["faults"])
    shift.nothing_lost()


def test_a_chattering_contact(begin: Begin, tmp_path: Path) -> None:
    shift = begin(tmp_path)
    for place in range(201):
        shift.plant.hand("pit-switch.normal", place % 2 == 1)
    until(lambda: ("chattering", "pit-switch.normal") in shift.core.faults())
    assert shift.shows("pit-switch", "green") is Shows.OFF
    assert shift.shows("pit-switch", "bolt") is Shows.SHUT
    until(lambda: any(f["fault"] == "chattering" for f in shift.board_shows()["faults"]))
    shift.plant.hand("pit-switch.normal", True)
    until(lambda: not shift.core.faults())
    assert shift.shows("pit-switch", "red") is Shows.OFF
    shift.nothing_lost()
    assert shift.violations() == [], "a loose wire blames no crew"


def test_a_thousand_readings_in_one_millisecond(begin: Begin, tmp_path: Path) -> None:
    shift = begin(tmp_path)
    names = [contact.name for contact in shift.plant.layout.contacts]
    levels = shift.board.levels()
    began_us = time.monotonic_ns() // 1_000
    before = len(shift.witness.lines)
    for place in range(1_000):
        name = names[place % len(names)]
        levels[name] = not levels[name]
        shift.engine.put_reading(began_us + place, name, levels[name])
    until(lambda: len(shift.witness.lines) == before + 1_000)
    assert shift.core.raw() == levels
    until(shift.lamps_right)
    assert shift.engine.drops == 0
    shift.nothing_lost()


def test_a_flood_of_readings_drops_some_and_reads_their_contacts_anew(
    begin: Begin, tmp_path: Path
) -> None:
    shift = begin(tmp_path)
    shift.trespass()
    busy = threading.Event()
    shift.plant.listeners.append(waiting_for(busy))
    shift.plant.hand("mine-switch.hasp", False)
    for place in range(2 * ROOM):
        shift.plant.hand("pit-switch.normal", place % 2 == 1)
    shift.plant.hand("pit-flag.rack", False)
    assert shift.engine._queue.qsize() <= ROOM + 5, "memory is bounded"
    assert shift.engine.drops > ROOM // 2
    shift.plant.hand("mine-switch.hasp", True)
    busy.set()
    shift.until_said("too fast", "read anew")
    until(lambda: shift.core.raw() == shift.board.levels())
    until(lambda: shift.core.settled() == shift.board.levels())
    assert shift.shows("pit-flag", "lamp") is Shows.STEADY
    shift.trespass()
    shift.nothing_lost()
    assert shift.violations().count("out-of-order") >= 2
