"""Which colour each lead has, always the same for the same role; black and red are kept apart.

A lead is a twisted pair: the coloured wire of its role, and black where it goes back to ground or
red where it comes from the plus of a supply.
"""

from __future__ import annotations

from collections.abc import Mapping
from enum import StrEnum

from firmware_py.wiring.wires import Wire


class Colour(StrEnum):
    """The colours that hook-up wire is sold in, as words."""

    BLACK = "black"
    BROWN = "brown"
    RED = "red"
    ORANGE = "orange"
    YELLOW = "yellow"
    GREEN = "green"
    BLUE = "blue"
    VIOLET = "violet"
    GREY = "grey"
    WHITE = "white"
    PINK = "pink"
    TURQUOISE = "turquoise"


SHADES: Mapping[Colour, str] = {
    Colour.BLACK: "#000000",
    Colour.BROWN: "#7b4a21",
    Colour.RED: "#d01616",
    Colour.ORANGE: "#f08000",
    Colour.YELLOW: "#f2dc00",
    Colour.GREEN: "#128a2e",
    Colour.BLUE: "#1450c8",
    Colour.VIOLET: "#7a2fa0",
    Colour.GREY: "#8c8c8c",
    Colour.WHITE: "#ffffff",
    Colour.PINK: "#f49ac1",
    Colour.TURQUOISE: "#18b5b0",
}
"""The patch that is printed beside the word."""

GROUND, PLUS = Colour.BLACK, Colour.RED

_CONTACTS: Mapping[str, Colour] = {
    "hasp": Colour.YELLOW,
    "normal": Colour.BROWN,
    "reverse": Colour.GREY,
    "detector": Colour.BLUE,
    "button": Colour.PINK,
    "fouling": Colour.VIOLET,
    "shut": Colour.BROWN,
    "on": Colour.BROWN,
    "rack": Colour.BROWN,
    "hook": Colour.YELLOW,
}
_OUTPUTS: Mapping[str, Colour] = {
    "green": Colour.GREEN,
    "red": Colour.ORANGE,
    "white": Colour.WHITE,
    "lamp": Colour.WHITE,
    "bolt": Colour.VIOLET,
    "buzzer": Colour.TURQUOISE,
    "power": Colour.PINK,
}


def colour_of_wire(wire: Wire) -> Colour:
    """The coloured wire of a contact's or output's lead; no other of its thing has the same."""
    return _CONTACTS[wire.key] if wire.senses else _OUTPUTS[wire.key]
