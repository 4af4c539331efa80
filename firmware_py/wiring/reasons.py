"""Why a layout can't be planned, in words that say how many are too many and what would help."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from firmware_py.layout.model import HeaderPin, Layout
from firmware_py.wiring.boards import Expanders, bus_taken_by
from firmware_py.wiring.header import PULLED_DOWN_AT_BOOT, SERIAL
from firmware_py.wiring.room import Room, Waiting, waiting_of
from firmware_py.wiring.wires import Need, Wire

NAMED = 4
"""Wires that a reason names before it says how many more there are."""


def reasons_against(
    layout: Layout, wires: Sequence[Wire], room: Room, expanders: Expanders
) -> tuple[str, ...]:
    """The reasons, at least one; ``room`` is what is free with every chip that could be added."""
    waiting = [wire for wire in wires if wire.pin is None]
    counts = waiting_of(waiting)
    found = [
        *_refused(waiting),
        *_pulled_down(wires, counts, room),
        *_contacts(counts, room),
        *_in_all(counts, room),
        *_current(counts, room),
    ]
    if not found:
        found = [
            f"{counts.contacts} contacts and {counts.total - counts.contacts} outputs don't fit "
            f"together on {room.header} header pins ({room.down} of them pulled down at boot) and "
            f"{room.expanders} expander lines ({room.both} of them for contacts)"
        ]
    if counts.refused < len(waiting):
        found.extend(_what_helps(layout, wires, expanders))
    return tuple(found)


def _refused(waiting: Sequence[Wire]) -> Iterator[str]:
    refused = [wire for wire in waiting if wire.need is Need.REFUSED]
    if refused:
        yield (
            f"{_named(refused)}: energised by a low level, which is what a pin has before Spurlock "
            "runs; use an active-high driver and take inverted = true out"
        )


def _pulled_down(wires: Sequence[Wire], counts: Waiting, room: Room) -> Iterator[str]:
    waiting = [wire for wire in wires if wire.pin is None]
    coils = [wire for wire in waiting if wire.need is Need.COIL]
    must = len(coils) + max(0, len(counts.high) - room.expanders)
    if must > room.down:
        why = "bolts and track power never go on an expander: " if coils else ""
        which = _named(coils) if coils else _named([w for w in waiting if w.need is Need.HIGH])
        yield (
            f"{must} outputs need pins whose boot pull is down; only {room.down} are free "
            f"({why}{which})"
        )
        movable = [wire for wire in wires if _movable(wire)]
        if coils and movable and room.expanders:
            yield (
                f"{_named(movable)} hold such pins and could go on an expander: write "
                '"auto" for as many as are missing, plan again, and solder them over'
            )


def _movable(wire: Wire) -> bool:
    """Whether a wire has a pin that a coil could have, and would be as well off elsewhere."""
    if wire.need is Need.COIL or not isinstance(wire.pin, HeaderPin):
        return False
    return wire.pin.bcm in PULLED_DOWN_AT_BOOT and wire.pin.bcm not in SERIAL


def _contacts(counts: Waiting, room: Room) -> Iterator[str]:
    header = room.header - len(counts.coils)
    if counts.contacts > max(0, header) + room.both:
        yield (
            f"{counts.contacts} contacts need a place; {max(0, header)} header pins and "
            f"{room.both} expander lines that take a contact are free"
        )


def _in_all(counts: Waiting, room: Room) -> Iterator[str]:
    if counts.total > room.header + room.expanders:
        yield (
            f"{counts.total} wires need a place; {room.header} header pins and "
            f"{room.expanders} expander lines are free"
        )


def _current(counts: Waiting, room: Room) -> Iterator[str]:
    on_header = max(0, counts.outputs - room.expanders)
    least = sum(counts.coils) + sum(sorted((*counts.high, *counts.low))[:on_header])
    if least > max(0, room.ua):
        yield (
            f"the outputs that must go on the header draw {least / 1000:g} mA from its pins; "
            f"{max(0, room.ua) / 1000:g} mA of the 50 mA for all pins are left (Raspberry Pi "
            "documentation); feed lamps through drivers: [wiring] supply_v = 5"
        )


def _what_helps(layout: Layout, wires: Sequence[Wire], expanders: Expanders) -> Iterator[str]:
    taken = bus_taken_by(layout, wires, expanders)
    if taken:
        bus = "I2C, GPIO 2 and 3" if expanders is Expanders.I2C else "SPI, GPIO 7 to 11"
        yield f"no expander can be added, since its bus ({bus}) is taken by {', '.join(taken[:4])}"
    elif expanders is Expanders.NONE:
        yield "no expanders were allowed: try --expanders i2c"
    elif expanders is Expanders.I2C:
        yield "every MCP23017 that I2C bus 1 takes was counted: try --expanders spi"
    else:
        yield "SPI's own pins (GPIO 7 to 11) were kept for the expanders"


def _named(wires: Sequence[Wire]) -> str:
    names = ", ".join(wire.name for wire in wires[:NAMED])
    return names if len(wires) <= NAMED else f"{names} and {len(wires) - NAMED} more"
