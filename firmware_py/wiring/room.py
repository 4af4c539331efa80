"""How much room is left, and whether the wires that still wait can all be given a place in it.

The question is asked before every single placing, so it is answered from counts alone. Header
pins nest: what a serial pin takes (contacts), a pin that is pulled up at boot takes too (and lamps
lit by a low level), and a pin that is pulled down at boot takes everything. Expander lines nest as
well: an output-only line takes what is not a contact, any other takes both.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, replace

from firmware_py.wiring.wires import Need, Wire


@dataclass(frozen=True, slots=True)
class Room:
    """Free places by sort, and the microamperes that the header's outputs may still ask for."""

    down: int
    up: int
    serial: int
    both: int
    output_only: int
    ua: int

    @property
    def header(self) -> int:
        """Free pins of the header."""
        return self.down + self.up + self.serial

    @property
    def expanders(self) -> int:
        """Free lines of expanders."""
        return self.both + self.output_only


@dataclass(frozen=True, slots=True)
class Waiting:
    """Wires without a place. The outputs that may go to an expander are listed by current."""

    contacts: int = 0
    coils: tuple[int, ...] = ()
    high: tuple[int, ...] = ()
    low: tuple[int, ...] = ()
    refused: int = 0

    @property
    def outputs(self) -> int:
        """Outputs that an expander takes too."""
        return len(self.high) + len(self.low)

    @property
    def total(self) -> int:
        """All of them but the refused."""
        return self.contacts + self.outputs + len(self.coils)

    def without(self, wire: Wire) -> Waiting:
        """The same, one wire less."""
        match wire.need:
            case Need.CONTACT:
                return replace(self, contacts=self.contacts - 1)
            case Need.COIL:
                return replace(self, coils=_less(self.coils, wire.ua))
            case Need.HIGH:
                return replace(self, high=_less(self.high, wire.ua))
            case Need.LOW:
                return replace(self, low=_less(self.low, wire.ua))
            case _:
                return replace(self, refused=self.refused - 1)


def waiting_of(wires: Iterable[Wire]) -> Waiting:
    """Count wires."""
    listed = list(wires)

    def of(need: Need) -> tuple[int, ...]:
        return tuple(sorted(wire.ua for wire in listed if wire.need is need))

    return Waiting(
        len(of(Need.CONTACT)), of(Need.COIL), of(Need.HIGH), of(Need.LOW), len(of(Need.REFUSED))
    )


def fits(waiting: Waiting, room: Room) -> bool:
    """Whether there is a place for every wire that waits; exact in both directions.

    The outputs on the header should be as few as they can: each takes a pin that a contact could
    have, and current. So exactly those are put there that the expanders have no line for.
    """
    if waiting.refused:
        return False
    coils, outputs = len(waiting.coils), waiting.outputs
    on_header = max(0, outputs - room.expanders)
    contacts = min(waiting.contacts, room.header - coils - on_header)
    if contacts < 0 or waiting.contacts - contacts > room.both:
        return False
    if waiting.total - coils - on_header - contacts > room.expanders:
        return False
    return any(
        _outputs_fit(waiting, room, low, on_header - low)
        for low in range(min(on_header, len(waiting.low)) + 1)
        if on_header - low <= len(waiting.high)
    )


def _outputs_fit(waiting: Waiting, room: Room, low: int, high: int) -> bool:
    """Whether that many of each sort, weakest first, fit on the header beside all coils."""
    down = len(waiting.coils) + high
    if down > room.down or down + low > room.down + room.up:
        return False
    ua = sum(waiting.coils) + sum(waiting.high[:high]) + sum(waiting.low[:low])
    return ua <= max(0, room.ua)


def _less(sorted_ua: tuple[int, ...], ua: int) -> tuple[int, ...]:
    at = sorted_ua.index(ua)
    return sorted_ua[:at] + sorted_ua[at + 1 :]
