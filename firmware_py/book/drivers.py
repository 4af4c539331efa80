"""Which channel of which ULN2803A a pin drives: settled by the pin alone, so it never moves.

Each run of eight outputs has a ULN2803A of its own, and lamps and coils never share one, since
COM of a coils' chip goes to the coils' supply.
"""

from __future__ import annotations

from dataclasses import dataclass

from firmware_py.book.circuit import Circuit, Feed, OutputCircuit
from firmware_py.layout.model import ChipLine, HeaderPin, Pin

_ORDER = (*range(9, 14), *range(16, 28), *range(4, 9), 2, 3, 14, 15)
"""Header pins in the order in which they fill the channels, those first that suit an output."""

CHANNELS = 8


@dataclass(frozen=True, slots=True)
class Channel:
    """A channel, 1 to 8, of the ULN2803A of that name."""

    chip: str
    number: int
    supply_v: float
    coils: bool


def channel_of(pin: Pin, circuit: Circuit) -> Channel | None:
    """The channel behind a pin; ``None`` where none is in its circuit."""
    if not isinstance(circuit, OutputCircuit) or circuit.feed is not Feed.ULN:
        return None
    board, at = _place(pin)
    name = f"{'coils' if circuit.coil else 'lamps'} {board} #{at // CHANNELS + 1}"
    return Channel(name, at % CHANNELS + 1, circuit.supply_v, circuit.coil)


def _place(pin: Pin) -> tuple[str, int]:
    match pin:
        case HeaderPin(bcm):
            return "header", _ORDER.index(bcm)
        case ChipLine(chip, line):
            return chip, line
        case _:
            raise ValueError("a wire without a pin drives nothing")
