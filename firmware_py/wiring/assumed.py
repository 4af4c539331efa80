"""The electrical values that a layout may give in ``[wiring]``, and what is assumed where not.

Every assumed value that is asked for is noted by name, so that a figure can say what it rests on.
Volts, milliamperes, ohms, metres, square millimetres.
"""

from __future__ import annotations

from typing import TypeVar

from firmware_py.layout.electrics import BoltDrive, Driver, PiModel, Wiring

T = TypeVar("T")

FORWARD_V = {"red": 2.0, "green": 2.1, "white": 3.3, "blue": 3.2}
"""Usual forward voltages (hobby tables); the LED's data sheet goes before them."""

DIRECT_MA, DRIVEN_MA = 3.0, 10.0
PI = PiModel.FOUR
"""The model with the weakest pads: what is right there is right on the others."""

DRIVER_DROP_V = {Driver.ULN2803A: 1.0, Driver.MOSFET: 0.0}
PLAIN = {
    "coil_v": 12.0,
    "bolt_ma": 150.0,
    "relay_ma": 40.0,
    "buzzer_ma": 30.0,
    "lead_m": 1.0,
    "wire_mm2": 0.25,
    "rail_ma": 500.0,
}

FIRST_COIL_SUPPLY_V = 9.0
"""From here on lamps are taken to share the coils' supply and so a ULN2803A."""


class Assumed:
    """Answers for a ``[wiring]``; ``names`` lists what had to be assumed, as ``key = value``."""

    def __init__(self, wiring: Wiring) -> None:
        self._wiring = wiring
        self._names: list[str] = []

    @property
    def names(self) -> tuple[str, ...]:
        """Everything assumed so far, each once."""
        return tuple(dict.fromkeys(self._names))

    def pi(self) -> PiModel:
        """The Pi's model."""
        return self._wiring.pi or self._note("pi", PI, f'"{PI}"')

    def forward(self, colour: str) -> float:
        """The forward voltage of an LED of that colour."""
        given = getattr(self._wiring, f"{colour}_v")
        return self._or(f"{colour}_v", given, FORWARD_V[colour])

    def led_ma(self, *, direct: bool) -> float:
        """The current of a lamp, straight on a pin or behind a driver."""
        return self._or("led_ma", self._wiring.led_ma, DIRECT_MA if direct else DRIVEN_MA)

    def supply(self) -> float:
        """The supply of lamps behind a driver."""
        return self._or("supply_v", self._wiring.supply_v, 5.0)

    def driver(self, supply_v: float) -> Driver:
        """What switches lamps at that supply."""
        usual = Driver.ULN2803A if supply_v >= FIRST_COIL_SUPPLY_V else Driver.MOSFET
        return self._wiring.driver or self._note("driver", usual, f'"{usual}"')

    def driver_drop(self, supply_v: float) -> float:
        """The volts that it keeps for itself at a lamp's current."""
        return DRIVER_DROP_V[self.driver(supply_v)]

    def pull_up(self, usual: float) -> float:
        """The external pull-up of contacts; ``usual`` is what their kind gets."""
        return self._or("pull_up_ohm", self._wiring.pull_up_ohm, usual)

    def bolt(self) -> BoltDrive:
        """What moves the bolts."""
        return self._wiring.bolt or self._note("bolt", BoltDrive.COIL, '"coil"')

    def plain(self, key: str) -> float:
        """Any other value of ``[wiring]`` that is a number."""
        return self._or(key, getattr(self._wiring, key), PLAIN[key])

    def _or(self, key: str, given: float | None, usual: float) -> float:
        return given if given is not None else self._note(key, usual, f"{usual:g}")

    def _note(self, key: str, usual: T, shown: str) -> T:
        self._names.append(f"{key} = {shown}")
        return usual
