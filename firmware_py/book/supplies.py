"""The supplies that a layout needs beside the Pi's own, as the electrical figures size them."""

from __future__ import annotations

from dataclasses import dataclass

from firmware_py.layout.electrics import BoltDrive
from firmware_py.layout.model import Layout
from firmware_py.wiring.assumed import Assumed
from firmware_py.wiring.formulas import MARGIN, branches
from firmware_py.wiring.lamp_figures import is_output_lamp
from firmware_py.wiring.lamps import colour_of, lamp_of
from firmware_py.wiring.load_figures import LOADS, SERVO_A
from firmware_py.wiring.wires import Wire


@dataclass(frozen=True, slots=True)
class Supply:
    """A listed supply: volts, the amperes it gives at least, its fused branches."""

    volts: float
    use: str
    amperes: float
    branches: int
    fuse_a: float

    @property
    def name(self) -> str:
        """As the electrical figures name it: ``12 V for coils and buzzers``."""
        return f"{self.volts:g} V for {self.use}"


def supplies_of(wires: tuple[Wire, ...], layout: Layout) -> tuple[Supply, ...]:
    """Lamps' supplies, then the coils', then the servos'."""
    told = Assumed(layout.wiring)
    loads: dict[tuple[float, str], float] = {}

    def add(volts: float, use: str, amperes: float) -> None:
        loads[volts, use] = loads.get((volts, use), 0.0) + amperes

    for wire in wires:
        if is_output_lamp(wire):
            lamp = lamp_of(colour_of(wire.key, wire.kind), layout.wiring)
            if not lamp.direct:
                add(lamp.supply_v, "lamps", lamp.milliamperes / 1000)
    for wire in wires:
        if wire.key in LOADS and not _servo(wire, told):
            add(told.plain("coil_v"), "coils and buzzers", told.plain(LOADS[wire.key]) / 1000)
    for wire in wires:
        if wire.key in LOADS and _servo(wire, told):
            add(5.0, "servos", SERVO_A)
    area = told.plain("wire_mm2")
    return tuple(
        Supply(volts, use, amperes * MARGIN, *branches(amperes, area))
        for (volts, use), amperes in loads.items()
    )


def _servo(wire: Wire, told: Assumed) -> bool:
    return wire.key == "bolt" and told.bolt() is BoltDrive.SERVO
