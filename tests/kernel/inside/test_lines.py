"""54 lines on two chips: each contact heard, each output read back from the kernel."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import gpiod
import pytest

from firmware_py.core.names import Shows
from firmware_py.engine.assembly import Plant, Settings
from firmware_py.pins.drives import LEVELS, Output
from firmware_py.pins.wiring import PinsError
from kernel.inside.guarding import Guarding, until
from kernel.inside.sim import SimChip

HEADER_PINS = range(2, 28)
BOX_LINES = range(28)
WIRES = ("hasp", "normal", "reverse", "green", "red", "white")


def stands() -> str:
    """Nine switches with six wires each, on 26 pins of the header and 28 lines of the box."""
    places = [str(pin) for pin in HEADER_PINS] + [f'"box:{line}"' for line in BOX_LINES]
    text = "[times]\nsettle = 0.02\n"
    for number in range(9):
        wires = dict(zip(WIRES, places[6 * number : 6 * number + 6], strict=True))
        contacts, lamps = (
            ", ".join(f"{wire} = {wires[wire]}" for wire in some) for some in (WIRES[:3], WIRES[3:])
        )
        text += f'[[switch]]\nid = "s{number}"\n'
        text += f"contacts = {{ {contacts} }}\nlamps = {{ {lamps} }}\n"
    return text


@pytest.fixture
def guarding(tmp_path: Path, header: SimChip, box: SimChip) -> Iterator[Guarding]:
    guarding = Guarding(tmp_path, stands(), {"header": header, "box": box})
    guarding.rest(guarding.at_rest)
    with guarding:
        yield guarding


def outputs(guarding: Guarding, header: SimChip, box: SimChip) -> dict[tuple[str, str], bool]:
    """What the kernel says each output's line is at, ``(switch, lamp)`` to high or low."""
    places: list[tuple[SimChip, int]] = [(header, pin) for pin in HEADER_PINS]
    places += [(box, line) for line in BOX_LINES]
    found = {}
    for place, (chip, line) in enumerate(places):
        if WIRES[place % 6] in WIRES[3:]:
            found[f"s{place // 6}", WIRES[place % 6]] = chip.value(line)
    return found


def as_told(guarding: Guarding) -> dict[tuple[str, str], bool]:
    """What each output's line must be at, by what the engine last told it; none that flash."""
    assert guarding.plant is not None
    shown = guarding.plant.board.shown()
    return {
        (of, output): LEVELS[Output(output)][shows]
        for (of, output), shows in shown.items()
        if shows is not Shows.FLASHING
    }


def test_54_lines_on_two_chips(guarding: Guarding, header: SimChip, box: SimChip) -> None:
    def agree() -> bool:
        told = as_told(guarding)
        real = outputs(guarding, header, box)
        return {key: real[key] for key in told} == told

    assert (
        sum(chip.in_use(line) == "spurlock" for chip in (header, box) for line in range(28)) == 54
    )
    until(agree, "the outputs are not what the engine told them to be")
    real = outputs(guarding, header, box)
    assert all(real[f"s{number}", "green"] for number in range(9)), "locked for the main track"
    for number in range(9):
        switch = f"s{number}"
        for contact, made in (("hasp", False), ("normal", False), ("reverse", True)):
            guarding.move(f"{switch}.{contact}", made)
            guarding.settles(f"{switch}.{contact}", made)
        until(lambda s=switch: not outputs(guarding, header, box)[s, "green"], f"{switch} green")
        until(agree, f"{switch}'s lamps are not what the engine told them to be")
    stages = [entry.line for entry in guarding.entries() if entry.what == "stage"]
    assert [x["switch"] for x in stages if x["stage"] == "lined"] == [f"s{n}" for n in range(9)]
    logged, replayed = guarding.replayed()
    assert replayed == logged


def test_a_line_that_another_process_holds_is_refused_in_words(
    tmp_path: Path, header: SimChip, box: SimChip
) -> None:
    layout = tmp_path / "layout.toml"
    layout.write_text(stands())
    for chip, line, kind in ((box, 0, "contact"), (header, 5, "output")):
        with gpiod.request_lines(
            chip.path, consumer="somebody", config={line: gpiod.LineSettings()}
        ):
            with pytest.raises(PinsError) as refused:
                Plant(Settings(layout, str(tmp_path / f"{kind}.sqlite"), False))
            said = str(refused.value)
            assert str(line) in said, said
            assert "in use by another" in said, said
        assert [chip.in_use(line) for line in range(28)] == [""] * 28, "what it had is given back"
