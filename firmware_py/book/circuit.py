"""Which circuit a wire hangs in, with its values: equal circuits share a drawing."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum

from firmware_py.layout.electrics import BoltDrive, Driver
from firmware_py.layout.model import HeaderPin, Layout, Role
from firmware_py.wiring.assumed import Assumed
from firmware_py.wiring.contact_figures import FILTERED_LEAD_M, MAKES, OPTO, PLAIN_LEAD_M, REED
from firmware_py.wiring.lamp_figures import resistor_of
from firmware_py.wiring.lamps import BUZZER, colour_of, is_lamp, lamp_of
from firmware_py.wiring.load_figures import CHANNEL_A, LOADS, SERVO_V
from firmware_py.wiring.wires import Need, Wire

UART_OUT = 14
"""Driven high while the Pi boots, so that a contact there needs a resistor in series."""


class Part(StrEnum):
    """What is at the end of the lead."""

    HASP = "hasp: two micro switches in series"
    MICRO = "micro switch"
    BUTTON = "push button"
    REED = "reed switch and magnet"
    DETECTOR = "detector with an isolated output"
    LAMP = "lamp"
    BOLT = "bolt coil"
    SERVO = "bolt servo"
    RELAY = "track power relay"
    BUZZER = "buzzer"


class Feed(StrEnum):
    """What stands between an output's pin and its load."""

    PIN = "pin"
    MOSFET = "mosfet"
    ULN = "uln2803a"
    SERVO_BOARD = "servo board"


@dataclass(frozen=True, slots=True)
class ContactCircuit:
    """A contact's circuit. ``series`` is 1 kilohm before the pin, ``filtered`` adds 100 nF."""

    part: Part
    pull_up_ohm: float
    series: bool
    filtered: bool
    protected: bool


@dataclass(frozen=True, slots=True)
class OutputCircuit:
    """An output's circuit. ``resistor_ohm`` is 0 for a load without one, or where none fits.

    ``low`` says that a low level energises it; ``supply_v`` is the load's.
    """

    part: Part
    feed: Feed
    supply_v: float
    low: bool = False
    colour: str = ""
    resistor_ohm: float = 0.0
    rating_w: float = 0.0
    milliamperes: float = 0.0

    @property
    def coil(self) -> bool:
        """Whether it kicks back when it is switched off."""
        return self.part in (Part.BOLT, Part.RELAY, Part.BUZZER)


Circuit = ContactCircuit | OutputCircuit


def circuit_of(wire: Wire, layout: Layout) -> Circuit:
    """The circuit that the electrical figures ask for."""
    if wire.senses:
        return _contact(wire, layout)
    if is_lamp(wire.key):
        return _lamp(wire, layout)
    return _load(wire, layout)


def _contact(wire: Wire, layout: Layout) -> ContactCircuit:
    told = Assumed(layout.wiring)
    role = Role(wire.key)
    make = MAKES[role]
    metres = told.plain("lead_m")
    parts = {Role.HASP: Part.HASP, Role.BUTTON: Part.BUTTON}
    usual = Part.REED if make is REED else Part.DETECTOR if make is OPTO else Part.MICRO
    filtered = metres > PLAIN_LEAD_M
    return ContactCircuit(
        parts.get(role, usual),
        told.pull_up(make.pull_up_ohm),
        filtered or wire.pin == HeaderPin(UART_OUT),
        filtered,
        metres > FILTERED_LEAD_M,
    )


def _lamp(wire: Wire, layout: Layout) -> OutputCircuit:
    colour = colour_of(wire.key, wire.kind)
    lamp = lamp_of(colour, layout.wiring)
    resistor = resistor_of(lamp)
    feed = Feed.PIN
    if not lamp.direct:
        driver = Assumed(layout.wiring).driver(lamp.supply_v)
        feed = Feed.ULN if driver is Driver.ULN2803A else Feed.MOSFET
    return OutputCircuit(
        Part.LAMP,
        feed,
        lamp.supply_v,
        low=wire.need is Need.LOW,
        colour=colour,
        resistor_ohm=resistor.ohms if resistor else 0.0,
        rating_w=resistor.rating if resistor else 0.0,
        milliamperes=lamp.milliamperes,
    )


def _load(wire: Wire, layout: Layout) -> OutputCircuit:
    told = Assumed(layout.wiring)
    low = wire.need is Need.REFUSED
    if wire.key == "bolt" and told.bolt() is BoltDrive.SERVO:
        return OutputCircuit(Part.SERVO, Feed.SERVO_BOARD, SERVO_V, low)
    part = {"bolt": Part.BOLT, "power": Part.RELAY, BUZZER: Part.BUZZER}[wire.key]
    milliamperes = told.plain(LOADS[wire.key])
    feed = Feed.ULN if milliamperes / 1000 <= CHANNEL_A else Feed.MOSFET
    return OutputCircuit(part, feed, told.plain("coil_v"), low, milliamperes=milliamperes)
