"""Chips in rows of legs, seen from above: expanders and ULN2803As, with what goes to each leg."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass

from firmware_py.book.contact_circuits import ohms
from firmware_py.book.legs import (
    DIP18,
    DIP28,
    EARTH,
    V3,
    address_levels,
    bus_wires,
    chip_legs,
    line_leg,
    uln_legs,
    uln_out,
)
from firmware_py.book.rows import Row
from firmware_py.book.svg import Plate
from firmware_py.layout.electrics import Chip
from firmware_py.layout.model import ChipLine
from firmware_py.wiring.figure import plain

WIDE, STEP, BODY, LEG = 178.0, 8.4, 34.0, 8.0

RESET_OHM, SUPPLY_F = 10_000.0, 100e-9
"""From RESET to 3.3 V, and from VDD to VSS close to the chip (common practice)."""


@dataclass(frozen=True, slots=True)
class Leg:
    """What goes to a leg: ``label`` is bold, ``more`` stands below it."""

    label: str = ""
    more: str = ""


def expander_svg(chip: Chip, rows: Iterable[Row]) -> str:
    """An expander with its supply, bus, address and lines."""
    legs = {
        9: Leg("3.3 V", f"{plain(SUPPLY_F, 'F')} to VSS, close by"),
        10: Leg(EARTH),
        18: Leg(V3, f"through {ohms(RESET_OHM)}"),
        **{leg: Leg(level, "sets the address") for leg, level in address_levels(chip).items()},
        **{leg: Leg(words) for leg, words in bus_wires(chip).items()},
    }
    for row in rows:
        if isinstance(row.wire.pin, ChipLine) and row.wire.pin.chip == chip.id:
            legs[line_leg(row.wire.pin.line)] = Leg(row.label, row.pin)
    title = f"{chip.kind.value.upper()} {chip.id}"
    return _dip(title, DIP28, chip_legs(chip.kind), legs)


def uln_svg(name: str, rows: Iterable[Row]) -> str:
    """A ULN2803A with its inputs from pins and its outputs to leads."""
    legs: dict[int, Leg] = {}
    volts, coils = 0.0, False
    for row in rows:
        channel = row.channel
        if channel is None or channel.chip != name:
            continue
        volts, coils = max(volts, channel.supply_v), coils or channel.coils
        through = ", through its inverter" if row.inverted else ""
        legs[channel.number] = Leg(row.label, f"from {row.pin}{through}")
        legs[uln_out(channel.number)] = Leg(row.label, f"its {row.signal} wire")
    legs[9] = Leg(EARTH, "the Pi's and the supply's")
    legs[10] = Leg(f"+{volts:g} V", "flyback: never leave it off" if coils else "after the fuse")
    return _dip(f"ULN2803A {name}", DIP18, uln_legs(), legs)


def _dip(title: str, count: int, names: Mapping[int, str], legs: Mapping[int, Leg]) -> str:
    half = count // 2
    high = half * STEP + 14
    plate = Plate(WIDE, high, f"{title}, seen from above, with what goes to each leg")
    middle = WIDE / 2
    plate.rect(middle - BODY / 2, 7, BODY, high - 9, line=0.6)
    plate.arc(middle, 7, 3)
    plate.words(middle, 3, f"{title}, from above, notch up", anchor="middle", room=WIDE)
    for leg in range(1, count + 1):
        left = leg <= half
        at = leg - 1 if left else count - leg
        y = 7 + 2.5 + at * STEP + STEP / 2
        _leg(plate, -1 if left else 1, y, (leg, names[leg]), legs.get(leg))
    return plate.svg()


def _leg(plate: Plate, side: int, y: float, leg: tuple[int, str], what: Leg | None) -> None:
    number, name = leg
    edge = WIDE / 2 + side * BODY / 2
    outer, inner = ("start", "end") if side > 0 else ("end", "start")
    plate.rect(min(edge, edge + side * LEG), y - 2.4, LEG, 4.8, line=0.9 if what else 0.25)
    plate.words(edge + side * LEG / 2, y, str(number), anchor="middle", bold=what is not None)
    plate.words(edge - side * 1.5, y, name, anchor=inner, size=3.2, bold=what is not None)
    x = edge + side * (LEG + 2)
    room = WIDE / 2 - BODY / 2 - LEG - 3
    if what is None:
        plate.words(x, y, "free", anchor=outer, size=2.6)
        return
    up = 1.6 if what.more else 0.0
    plate.words(x, y - up, what.label, anchor=outer, size=3.4, bold=True, room=room)
    if what.more:
        plate.words(x, y + 1.9, what.more, anchor=outer, size=2.7, room=room)
