"""Figures of lamps: resistors by colour, and what each pin and chip gives."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from firmware_py.layout.electrics import Wiring
from firmware_py.layout.model import ChipLine, HeaderPin, Layout
from firmware_py.layout.wires import pin_name
from firmware_py.wiring.assumed import Assumed
from firmware_py.wiring.figure import Figure, plain
from firmware_py.wiring.formulas import Resistor, led_resistor
from firmware_py.wiring.header import ALL_PINS_UA, PADS
from firmware_py.wiring.lamps import LEAST_HEADROOM_V, Lamp, colour_of, is_lamp, lamp_of
from firmware_py.wiring.wires import Need, Wire

PARTS = "E24: IEC 60063; forward voltage: hobby tables, the LED's data sheet goes before them"
MCP = "Microchip DS20001952: 25 mA a pin, 125 mA into VDD, 150 mA out of VSS"
INTO_VDD_MA, OUT_OF_VSS_MA = 125.0, 150.0


def lamp_figures(wires: Sequence[Wire], wiring: Wiring) -> Iterator[Figure]:
    """A figure for the resistor of each colour that the layout has."""
    counts: dict[str, int] = {}
    for wire in wires:
        if is_output_lamp(wire):
            colour = colour_of(wire.key, wire.kind)
            counts[colour] = counts.get(colour, 0) + 1
    for colour, count in counts.items():
        lamp = lamp_of(colour, wiring)
        yield _resistor(f"{colour} lamps ({count})", lamp)


def pin_figures(wires: Sequence[Wire], layout: Layout) -> Iterator[Figure]:
    """Currents of each driven pin, of the header in all, and of each chip."""
    told = Assumed(layout.wiring)
    pi = told.pi()
    pads = PADS[pi]
    assumed = (*told.names, *pads.assumed)
    driven = [wire for wire in wires if not wire.senses and wire.pin is not None]
    header = [wire for wire in driven if isinstance(wire.pin, HeaderPin)]
    for wire in header:
        yield Figure(
            pin_name(wire.pin),
            wire.name,
            plain(wire.ua / 1e6, "A"),
            f"LED or driver input, at most {pads.default_ma:g} mA at the drive of start (Pi {pi})",
            pads.source,
            assumed,
            None
            if wire.ua <= pads.default_ma * 1000
            else f"lower led_ma to {pads.default_ma:g}, or use a driver",
        )
    if header:
        total = sum(wire.ua for wire in header)
        wrong = "feed lamps through drivers ([wiring] supply_v = 5), or move some to an expander"
        yield Figure(
            "header",
            f"{len(header)} outputs together",
            plain(total / 1e6, "A"),
            f"sum of its pins, at most {ALL_PINS_UA // 1000} mA",
            "Raspberry Pi documentation, power supplies",
            told.names,
            wrong if total > ALL_PINS_UA else None,
        )
    for chip in dict.fromkeys(w.pin.chip for w in driven if isinstance(w.pin, ChipLine)):
        yield _chip(chip, [w for w in driven if isinstance(w.pin, ChipLine) and w.pin.chip == chip])


def is_output_lamp(wire: Wire) -> bool:
    """Whether a wire is a lamp's."""
    return not wire.senses and is_lamp(wire.key)


def resistor_of(lamp: Lamp) -> Resistor | None:
    """The lamp's resistor, ``None`` where the supply leaves nothing for one."""
    if lamp.headroom_v < LEAST_HEADROOM_V:
        return None
    return led_resistor(lamp.supply_v, lamp.forward_v, lamp.driver_v, lamp.milliamperes / 1000)


def _resistor(about: str, lamp: Lamp) -> Figure:
    volts = f"({lamp.supply_v:g} - {lamp.forward_v:g} - {lamp.driver_v:g}) V"
    resistor = resistor_of(lamp)
    if resistor is None:
        return Figure(
            about,
            "resistor",
            "none is right",
            f"{volts} = {lamp.headroom_v:g} V, at least {LEAST_HEADROOM_V:g} V",
            f"{PARTS}; least headroom: common practice",
            lamp.assumed,
            "nothing is left for a resistor: give a higher supply_v in [wiring]",
        )
    how = "straight on the pin" if lamp.direct else f"from {lamp.supply_v:g} V through a driver"
    return Figure(
        about,
        f"resistor, {how}",
        f"{plain(resistor.ohms, 'ohm')}, {resistor.rating:g} W",
        f"{volts} / {lamp.milliamperes:g} mA = {resistor.exact:.4g} ohm, up to E24: "
        f"{plain(resistor.amperes, 'A')}; heat I2 R = {plain(resistor.watts, 'W')}, twice that",
        PARTS,
        lamp.assumed,
    )


def _chip(chip: str, wires: Sequence[Wire]) -> Figure:
    source = sum(wire.ua for wire in wires if wire.need is not Need.LOW) / 1000
    sink = sum(wire.ua for wire in wires if wire.need is Need.LOW) / 1000
    return Figure(
        chip,
        f"{len(wires)} outputs together",
        f"gives {source:g} mA, sinks {sink:g} mA",
        f"sums of its pins, at most {INTO_VDD_MA:g} and {OUT_OF_VSS_MA:g} mA",
        MCP,
        (),
        "feed lamps through drivers" if source > INTO_VDD_MA or sink > OUT_OF_VSS_MA else None,
    )
