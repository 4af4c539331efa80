"""Figures of what moves and sounds, and of the supplies: drivers, flyback, rails, fuses."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from firmware_py.layout.electrics import BoltDrive
from firmware_py.layout.model import ChipLine, Layout
from firmware_py.wiring.assumed import Assumed
from firmware_py.wiring.contact_figures import pull_up_a
from firmware_py.wiring.figure import Figure, plain
from firmware_py.wiring.formulas import MARGIN, branches, largest_fuse
from firmware_py.wiring.lamp_figures import is_output_lamp
from firmware_py.wiring.lamps import BUZZER, COILS, SUPPLY_V, colour_of, lamp_of
from firmware_py.wiring.wires import Wire

CHANNEL_A = 0.2
"""What a ULN2803A's channel is planned for when 3.3 V drive it (from memory)."""

CHIP_A = 0.001
"""An expander's own supply current (from memory)."""

SERVO_A = 0.7
"""A small servo that is held against its stop (from memory)."""

SERVO_V, SERVO_HZ, SERVO_STEPS = 5.0, 50, 4096
LOADS = {"bolt": "bolt_ma", "power": "relay_ma", BUZZER: "buzzer_ma"}
ULN = "TI ULN2803A: 50 V, 500 mA peak a channel; 200 mA at 3.3 V drive: from memory"


def load_figures(wires: Sequence[Wire], layout: Layout) -> Iterator[Figure]:
    """A figure for each sort of load, and one for each load that hangs where it must not."""
    for key in LOADS:
        loads = [wire for wire in wires if wire.key == key and not wire.senses]
        if not loads:
            continue
        if key == "bolt" and Assumed(layout.wiring).bolt() is BoltDrive.SERVO:
            yield _servo(len(loads))
        else:
            yield _coil(key, len(loads), layout)
    for wire in wires:
        if wire.key in COILS and isinstance(wire.pin, ChipLine):
            yield Figure(
                wire.name,
                "place",
                "an expander",
                "an expander keeps its outputs when the service dies",
                "inferred from Microchip DS20001952's reset state",
                (),
                'give it a header pin: 9 to 13 or 16 to 27, or write "auto" and plan anew',
            )


def rail_figures(wires: Sequence[Wire], layout: Layout) -> Iterator[Figure]:
    """What each supply has to give with everything on at once, its fuse and its branches."""
    yield _logic_rail(wires, layout)
    lamps: dict[float, float] = {}
    names: list[str] = []
    for wire in wires:
        if is_output_lamp(wire):
            lamp = lamp_of(colour_of(wire.key, wire.kind), layout.wiring)
            if not lamp.direct:
                lamps[lamp.supply_v] = lamps.get(lamp.supply_v, 0) + lamp.milliamperes / 1000
                names.extend(lamp.assumed)
    for volts, amperes in lamps.items():
        yield _supply(f"{volts:g} V for lamps", amperes, layout, names)
    told = Assumed(layout.wiring)
    coils = servos = 0.0
    for wire in wires:
        if wire.senses or wire.key not in LOADS:
            continue
        if wire.key == "bolt" and told.bolt() is BoltDrive.SERVO:
            servos += SERVO_A
        else:
            coils += told.plain(LOADS[wire.key]) / 1000
    if coils:
        volts = told.plain("coil_v")
        yield _supply(f"{volts:g} V for coils and buzzers", coils, layout, told.names)
    if servos:
        yield _supply("5 V for servos", servos, layout, told.names)


def _coil(key: str, count: int, layout: Layout) -> Figure:
    told = Assumed(layout.wiring)
    amperes, volts = told.plain(LOADS[key]) / 1000, told.plain("coil_v")
    name = {"bolt": "bolts", "power": "track power relays", BUZZER: "buzzers"}[key]
    part = "a ULN2803A channel" if amperes <= CHANNEL_A else "a logic-level MOSFET"
    diode = (
        "its COM to the coils' plus is the flyback diode"
        if amperes <= CHANNEL_A
        else f"flyback diode of {plain(amperes, 'A')} and {2 * volts:g} V or more, cathode to plus"
    )
    return Figure(
        f"{name} ({count})",
        "driver of each",
        f"{part}, 10 kohm from its input to ground; {diode}",
        f"{plain(amperes, 'A')} at {volts:g} V: R = V / I = {plain(volts / amperes, 'ohm')}, "
        f"P = V I = {plain(volts * amperes, 'W')}; the channel bears {plain(CHANNEL_A, 'A')}",
        ULN if amperes <= CHANNEL_A else "MOSFET and diode: common practice",
        told.names,
    )


def _servo(count: int) -> Figure:
    return Figure(
        f"bolts ({count})",
        "driver of each servo",
        "a board that takes on and off and makes the pulses (PCA9685); no flyback diode",
        f"1 / ({SERVO_HZ} Hz x {SERVO_STEPS}) = {plain(1 / SERVO_HZ / SERVO_STEPS, 's')} a step, "
        "where a pin of the Pi steps by 1 % of 20 ms = 200 us",
        "PCA9685 pages; gpiozero issue 1209",
    )


def _logic_rail(wires: Sequence[Wire], layout: Layout) -> Figure:
    told = Assumed(layout.wiring)
    pi, most = told.pi(), told.plain("rail_ma") / 1000
    pulls = pull_up_a(layout)
    lit = sum(wire.ua for wire in wires) / 1e6
    chips = {wire.pin.chip for wire in wires if isinstance(wire.pin, ChipLine)}
    own = len(chips) * CHIP_A
    total = pulls + lit + own
    wrong = (
        "feed expanders and pull-ups from a 3.3 V regulator of their own behind the 5 V supply, "
        "grounds joined, and give what it bears as rail_ma"
    )
    return Figure(
        "3.3 V rail",
        f"everything on at once, Pi {pi}",
        plain(total, "A"),
        f"pull-ups {plain(pulls, 'A')} + outputs {plain(lit, 'A')} + {len(chips)} chips "
        f"{plain(own, 'A')}, at most {plain(most, 'A')}",
        f"sums at {SUPPLY_V:g} V; a chip's own 1 mA and the rail's limit: from memory",
        told.names,
        wrong if total > most else None,
    )


def _supply(name: str, amperes: float, layout: Layout, names: Sequence[str]) -> Figure:
    told = Assumed(layout.wiring)
    area = told.plain("wire_mm2")
    count, fuse = branches(amperes, area)
    each = "one branch" if count == 1 else f"{count} branches"
    return Figure(
        name,
        "supply, and the fuse of each branch",
        f"{plain(amperes * MARGIN, 'A')} or more; {each}, fuse {fuse:g} A",
        f"everything on: {plain(amperes, 'A')} x {MARGIN}; wire of {area:g} mm2 bears 6 A/mm2, "
        f"so {largest_fuse(area):g} A is its largest fuse",
        "margin: common practice; fuse ratings IEC 60127 and wire: from memory",
        tuple(dict.fromkeys((*names, *told.names))),
    )
