"""The wire list: a row for each contact and output, stand by stand."""

from __future__ import annotations

from dataclasses import dataclass

from firmware_py.book.circuit import Circuit, ContactCircuit, Feed, OutputCircuit, Part, circuit_of
from firmware_py.book.colours import GROUND, PLUS, Colour, colour_of_wire
from firmware_py.book.contact_circuits import ohms
from firmware_py.book.drivers import Channel, channel_of
from firmware_py.book.legs import place_of, uln_out
from firmware_py.layout.model import Layout
from firmware_py.layout.wires import pin_name
from firmware_py.wiring.assumed import Assumed
from firmware_py.wiring.wires import Wire, wires_of


@dataclass(frozen=True, slots=True)
class Row:
    """A lead with what hangs at both of its ends; ``metres`` is one lead's length.

    ``label`` and ``pin`` are what ``spurlock check`` and the bench page say. ``circuit`` is the
    drawing's letter, ``shape`` what it shows.
    """

    wire: Wire
    label: str
    pin: str
    place: str
    shape: Circuit
    circuit: str
    signal: Colour
    back: Colour
    metres: float
    inverted: bool
    channel: Channel | None

    @property
    def far(self) -> str:
        """What is at the stand."""
        if isinstance(self.shape, OutputCircuit) and self.shape.part is Part.LAMP:
            return f"{self.shape.colour} {Part.LAMP}"
        return self.shape.part.value

    @property
    def wires(self) -> tuple[Colour, ...]:
        """The colours of all wires of the lead; a servo has three."""
        if self.shape.part is Part.SERVO:
            return (PLUS, self.signal, GROUND)
        return (self.signal, self.back)

    @property
    def resistor(self) -> str:
        """The pull-up of a contact or the series resistor of a lamp; empty where there is none."""
        value = (
            self.shape.pull_up_ohm
            if isinstance(self.shape, ContactCircuit)
            else self.shape.resistor_ohm
        )
        return ohms(value) if value else ""

    @property
    def near(self) -> str:
        """Through what the coloured wire gets to its pin; empty for nothing."""
        if isinstance(self.shape, ContactCircuit):
            return ""
        match self.shape.feed:
            case Feed.MOSFET:
                return f"MOSFET Q {self.pin}"
            case Feed.SERVO_BOARD:
                return "the servo board"
            case Feed.ULN if self.channel:
                at = self.channel
                return f"ULN2803A {at.chip}, in at leg {at.number}, out at leg {uln_out(at.number)}"
            case _:
                return "" if self.shape.low else self.resistor


def rows_of(layout: Layout) -> tuple[Row, ...]:
    """Every row, in the planner's order of stands; every wire must have its pin."""
    chips = {chip.id: chip for chip in layout.chips}
    metres = Assumed(layout.wiring).plain("lead_m")
    inverted = {contact.name for contact in layout.contacts if contact.inverted}
    wires = wires_of(layout)
    letters: dict[Circuit, str] = {}
    for wire in sorted(wires, key=lambda wire: not wire.senses):
        letters.setdefault(circuit_of(wire, layout), letter(len(letters)))
    rows = []
    for wire in wires:
        shape = circuit_of(wire, layout)
        rows.append(
            Row(
                wire,
                wire.name,
                pin_name(wire.pin),
                place_of(wire.pin, chips),
                shape,
                letters[shape],
                colour_of_wire(wire),
                _back(shape),
                metres,
                wire.name in inverted or (isinstance(shape, OutputCircuit) and shape.low),
                channel_of(wire.pin, shape),
            )
        )
    return tuple(rows)


def letter(number: int) -> str:
    """``A`` to ``Z``, then ``AA`` and so on, for 0, 1, 2..."""
    text = ""
    number += 1
    while number:
        number, left = divmod(number - 1, 26)
        text = chr(ord("A") + left) + text
    return text


def _back(shape: Circuit) -> Colour:
    if isinstance(shape, ContactCircuit) or (shape.feed is Feed.PIN and not shape.low):
        return GROUND
    return PLUS
