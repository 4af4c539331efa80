"""How lamps are fed: straight from a pin where that is enough, else through a driver."""

from __future__ import annotations

from dataclasses import dataclass

from firmware_py.layout.electrics import Wiring
from firmware_py.layout.model import Kind
from firmware_py.wiring.assumed import Assumed
from firmware_py.wiring.header import DIRECT_UA, DRIVER_INPUT_UA

COILS = ("bolt", "power")
"""Outputs that move something or make track live: never on an expander, which keeps its outputs
when the service dies."""

BUZZER = "buzzer"
SUPPLY_V = 3.3

LEAST_HEADROOM_V = 0.5
"""What supply and LED must differ by for a resistor to set the current (common practice)."""


@dataclass(frozen=True, slots=True)
class Lamp:
    """How lamps of a colour are fed. ``direct`` is from the pin itself; volts, milliamperes."""

    direct: bool
    supply_v: float
    forward_v: float
    driver_v: float
    milliamperes: float
    assumed: tuple[str, ...]

    @property
    def headroom_v(self) -> float:
        """What is left for the resistor."""
        return round(self.supply_v - self.forward_v - self.driver_v, 6)


def is_lamp(key: str) -> bool:
    """Whether an output is a lamp."""
    return key not in (*COILS, BUZZER)


def colour_of(key: str, kind: Kind) -> str:
    """A lamp's colour; the lamp of a flag is blue, that of another protection white."""
    if key != "lamp":
        return key
    return "blue" if kind is Kind.FLAG else "white"


def lamp_of(colour: str, wiring: Wiring) -> Lamp:
    """Feed straight where 3.3 V are enough and a pin can give it; else through a driver."""
    told = Assumed(wiring)
    forward = told.forward(colour)
    headroom = SUPPLY_V - forward >= LEAST_HEADROOM_V
    little = wiring.led_ma is None or wiring.led_ma * 1000 <= DIRECT_UA
    if headroom and little and wiring.supply_v in (None, SUPPLY_V) and wiring.driver is None:
        return Lamp(True, SUPPLY_V, forward, 0.0, told.led_ma(direct=True), told.names)
    supply = told.supply()
    drop = told.driver_drop(supply)
    return Lamp(False, supply, forward, drop, told.led_ma(direct=False), told.names)


def pin_ua(key: str, kind: Kind, wiring: Wiring) -> int:
    """Microamperes that an output asks of its pin: an LED's own, or a driver's input."""
    if not is_lamp(key):
        return DRIVER_INPUT_UA
    lamp = lamp_of(colour_of(key, kind), wiring)
    return round(lamp.milliamperes * 1000) if lamp.direct else DRIVER_INPUT_UA
