"""A start that one chip refuses leaves nothing requested on another."""

from pathlib import Path

import gpiod
import pytest
from gpiod.line import Direction
from pins_fake_gpio import FakeChip, header_chip, kernel_of

from firmware_py.engine import wires
from firmware_py.pins.chardev import CharDevFactory
from firmware_py.pins.wiring import NoHeaderError, PinsError

LAYOUT = """
[[switch]]
id = "mill-switch"
contacts = { hasp = 5, normal = 6, reverse = "box:0" }
lamps = { red = 21 }
"""


@pytest.mark.parametrize(("on_header", "line"), [(False, 0), (True, 21)])
def test_what_was_requested_is_given_back(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, on_header: bool, line: int
) -> None:
    header, box = header_chip(), FakeChip("gpiochip7", "box", 16)
    kernel = kernel_of(header, box)
    monkeypatch.setattr(wires, "CharDevFactory", lambda: CharDevFactory(kernel))
    layout = tmp_path / "layout.toml"
    layout.write_text(LAYOUT)
    held = header if on_header else box
    output = gpiod.LineSettings(direction=Direction.OUTPUT)
    devices = kernel._devices
    devices.request_lines(f"/dev/{held.name}", {line: output}, None)
    with pytest.raises(PinsError, match="in use by another"):
        wires.take_wires(layout, simulated=False)
    assert [len(chip.requests) for chip in (header, box)] == [on_header, not on_header]


def test_a_header_that_comes_while_the_machine_boots_is_waited_for(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    header, box = header_chip(), FakeChip("gpiochip7", "box", 16)
    header.present = False
    monkeypatch.setattr(wires, "CharDevFactory", lambda: CharDevFactory(kernel_of(header, box)))
    slept: list[float] = []

    def sleep(seconds: float) -> None:
        slept.append(seconds)
        header.present = len(slept) == 3

    monkeypatch.setattr(wires.time, "sleep", sleep)
    layout = tmp_path / "layout.toml"
    layout.write_text(LAYOUT)
    taken = wires.take_wires(layout, simulated=False, header_within_s=60.0)
    assert len(slept) == 3
    assert len(header.requests) == 2
    taken.close()
    header.present = False
    with pytest.raises(NoHeaderError, match="no Raspberry Pi header"):
        wires.take_wires(layout, simulated=False)
    assert len(slept) == 3, "nobody waits who was started by hand"
