"""The circuits of outputs: the stand on the left, the box with its pin on the right."""

from __future__ import annotations

from schemdraw import elements as elm

from firmware_py.book.canvas import Canvas, Point
from firmware_py.book.circuit import Feed, OutputCircuit, Part
from firmware_py.book.contact_circuits import BOX_END, LOW, halves, lead, ohms, pin

GATE_OHM, PULL_OHM, PULL_UP_OHM = 100.0, 10_000.0, 1_000.0
"""Before a gate; from each driver's input to ground; from an inverter's output to 3.3 V."""


def output_svg(circuit: OutputCircuit) -> str:
    """The drawing of an output's circuit."""
    canvas = Canvas()
    if circuit.feed is Feed.SERVO_BOARD:
        _servo(canvas, circuit)
    else:
        _LOADS[circuit.part](canvas, circuit)
        lead(canvas, 0, LOW)
        if circuit.feed is Feed.PIN:
            _straight(canvas, circuit)
        else:
            _driven(canvas, circuit)
    return canvas.svg(output_words(circuit))


def output_words(circuit: OutputCircuit) -> str:
    """The drawing in words, for who can't see it."""
    what = f"{circuit.colour} lamp" if circuit.part is Part.LAMP else circuit.part.value
    if circuit.feed is Feed.PIN:
        ends = "from 3.3 V to the pin" if circuit.low else "from the pin to ground"
        return f"{ohms(circuit.resistor_ohm)} and a {what} in series {ends}"
    told = [f"{what} between a fused {circuit.supply_v:g} V supply and its driver"]
    if circuit.feed is Feed.SERVO_BOARD:
        return f"servo on a servo board that is fed from a fused {circuit.supply_v:g} V supply"
    if circuit.resistor_ohm:
        told.append(f"{ohms(circuit.resistor_ohm)} in series with it")
    name = "an N-channel MOSFET" if circuit.feed is Feed.MOSFET else "a ULN2803A channel"
    told.append(f"driver: {name}, behind an inverter" if circuit.low else f"driver: {name}")
    if not circuit.low:
        told.append(f"{ohms(PULL_OHM)} from its input to ground")
    if circuit.coil:
        diode = "flyback diode across it" if circuit.feed is Feed.MOSFET else "COM to its plus"
        told.append(diode)
    return ", ".join(told)


def _straight(canvas: Canvas, circuit: OutputCircuit) -> None:
    x = 5.8
    if circuit.low:
        canvas.line((BOX_END, 0), (x, 0), (x, 0.6))
        canvas.plus((x, 0.6), "3.3 V")
        y = LOW
    else:
        canvas.line((BOX_END, LOW), (x, LOW))
        canvas.ground((x, LOW))
        y = 0.0
    canvas.part(elm.ResistorIEC(), (BOX_END, y), (8.2, y))
    canvas.words((6.9, y + 0.5), _resistor(circuit), align="center")
    pin(canvas, (8.2, y))
    halves(canvas, LOW - 0.75)


def _driven(canvas: Canvas, circuit: OutputCircuit) -> None:
    """The fused plus on the upper wire, the driver on the lower one."""
    x = BOX_END + 0.9
    canvas.line((BOX_END, 0), (x, 0))
    if circuit.part is Part.LAMP:
        canvas.part(elm.ResistorIEC(), (x, 0), (x + 2.2, 0))
        canvas.words((x + 1.1, -0.45), _resistor(circuit), align="center")
    at = (x + 2.5, 0.0)
    canvas.line((x + 2.2 if circuit.part is Part.LAMP else x, 0), at)
    canvas.part(elm.FuseIEC(), at, (at[0], 1.2))
    canvas.plus((at[0], 1.2), f"+{circuit.supply_v:g} V")
    canvas.words((at[0] + 0.35, 0.6), "fuse of the branch")
    canvas.words((at[0] + 0.7, 1.6), "listed supply,", "not the Pi's", small=True)
    inlet = _mosfet(canvas) if circuit.feed is Feed.MOSFET else _uln(canvas, circuit, at)
    if circuit.low:
        _inverter(canvas, inlet)
    else:
        _pulled_down(canvas, inlet)
    halves(canvas, LOW - 2.5)


def _mosfet(canvas: Canvas) -> Point:
    """A MOSFET whose drain is on the lower wire; the answer is where its input begins."""
    x = 6.3
    canvas.line((BOX_END, LOW), (x, LOW))
    fet = canvas.add(elm.NFet().theta(0).at((x, LOW)).anchor("drain"))
    source, gate = fet.absanchors["source"], fet.absanchors["gate"]
    canvas.ground((source.x, source.y))
    canvas.words((x + 0.45, source.y - 0.3), "N-MOSFET")
    for letter, at in (("D", (x - 0.3, LOW - 0.3)), ("S", (x - 0.3, source.y + 0.3))):
        canvas.words(at, letter, align="center", small=True)
    canvas.words((gate.x + 0.25, gate.y + 0.25), "G", align="center", small=True)
    canvas.part(elm.ResistorIEC(), (gate.x, gate.y), (gate.x + 2.0, gate.y))
    canvas.words((gate.x + 1.0, gate.y + 0.5), ohms(GATE_OHM), align="center")
    return gate.x + 2.0, gate.y


def _uln(canvas: Canvas, circuit: OutputCircuit, plus: Point) -> Point:
    """A channel of a ULN2803A; COM goes to the load's plus, behind the same fuse."""
    left, right, y = 6.3, 8.7, LOW
    canvas.line((BOX_END, y), (left, y))
    canvas.box((left, y - 1.5), (right, y + 0.9))
    canvas.words((left + 0.15, y), "OUT", small=True)
    canvas.words((right - 0.15, y), "IN", align="right", small=True)
    canvas.words(((left + right) / 2, y - 0.75), "ULN2803A", "one channel", align="center")
    canvas.line((left + 1.2, y - 1.5), (left + 1.2, y - 1.8))
    canvas.ground((left + 1.2, y - 1.8))
    canvas.words((left + 1.5, y - 1.85), "GND, leg 9", small=True)
    com = (plus[0], y + 0.9)
    canvas.words((com[0], y + 0.65), "COM", align="center", small=True)
    canvas.line(plus, com)
    canvas.dot(plus)
    why = ("leg 10: its diodes", "take the kick-back") if circuit.coil else ("leg 10",)
    canvas.words((com[0] - 0.2, y + 1.65), *why, align="right", small=True)
    return right, y


def _pulled_down(canvas: Canvas, inlet: Point) -> None:
    """The pin, with the resistor that keeps the driver off while the pin floats."""
    x, y = inlet
    canvas.line((x, y), (x + 2.3, y))
    canvas.part(elm.ResistorIEC(), (x + 0.7, y), (x + 0.7, y - 1.3))
    canvas.dot((x + 0.7, y))
    canvas.ground((x + 0.7, y - 1.3))
    canvas.words((x + 1.05, y - 0.7), ohms(PULL_OHM), "keeps it off")
    pin(canvas, (x + 2.3, y))


def _inverter(canvas: Canvas, inlet: Point) -> None:
    """One more MOSFET, so that a low level at the pin switches the driver on."""
    x, y = inlet
    drain = (x + 1.5, y)
    canvas.line((x, y), drain)
    canvas.dot(drain)
    canvas.part(elm.ResistorIEC(), drain, (drain[0], y + 1.6))
    canvas.plus((drain[0], y + 1.6), "3.3 V")
    canvas.words((drain[0] - 0.35, y + 0.8), ohms(PULL_UP_OHM), align="right")
    fet = canvas.add(elm.NFet().theta(0).at(drain).anchor("drain"))
    source, gate = fet.absanchors["source"], fet.absanchors["gate"]
    canvas.ground((source.x, source.y))
    canvas.words((source.x + 0.45, source.y - 0.3), "N-MOSFET")
    canvas.line((gate.x, gate.y), (gate.x + 2.2, gate.y))
    up = (gate.x + 0.9, gate.y)
    canvas.dot(up)
    canvas.part(elm.ResistorIEC(), up, (up[0], up[1] + 1.6))
    canvas.plus((up[0], up[1] + 1.6), "3.3 V")
    canvas.words((up[0] + 0.35, up[1] + 0.8), ohms(PULL_OHM))
    pin(canvas, (gate.x + 2.2, gate.y))


def _servo(canvas: Canvas, circuit: OutputCircuit) -> None:
    names = ("+ (red)", "pulse", "- (black)")
    for number, name in enumerate(names):
        y = -1.0 * number - 0.5
        canvas.line((0, y), (6.3, y))
        canvas.dot((1.0, y), open_=True)
        canvas.dot((BOX_END, y), open_=True)
        canvas.words((2.8, y + 0.3), name, align="center", small=True)
    canvas.box((-2.4, LOW), (0, 0))
    canvas.words((-1.2, LOW / 2), "servo of", "the bolt", align="center")
    canvas.box((6.3, LOW), (9.3, 0))
    canvas.words((7.8, LOW / 2), "servo board:", "on and off in,", "pulses out", align="center")
    canvas.part(elm.FuseIEC(), (7.8, 0), (7.8, 1.2))
    canvas.words((8.15, 0.6), "fuse")
    canvas.plus((7.8, 1.2), f"+{circuit.supply_v:g} V")
    canvas.words((8.5, 1.5), "listed supply,", "not the Pi's", small=True)
    canvas.line((7.8, LOW), (7.8, LOW - 0.3))
    canvas.ground((7.8, LOW - 0.3))
    _pulled_down(canvas, (9.3, LOW / 2))
    halves(canvas, LOW - 0.75)


def _lamp(canvas: Canvas, circuit: OutputCircuit) -> None:
    canvas.part(elm.LED(), (0, 0), (0, LOW))
    canvas.words((-0.9, LOW / 2), f"{circuit.colour} LED", "short leg:", "lower end", align="right")


def _coil(canvas: Canvas, circuit: OutputCircuit) -> None:
    canvas.part(elm.Inductor2(loops=3), (0, 0), (0, LOW))
    canvas.words((-0.6, LOW / 2), "bolt coil,", "spring-shut", align="right")
    _flyback(canvas, circuit)


def _relay(canvas: Canvas, circuit: OutputCircuit) -> None:
    canvas.part(elm.Inductor2(loops=3), (0, 0), (0, LOW))
    canvas.words((-0.15, -3.5), "relay", align="center")
    canvas.line((-0.4, LOW / 2), (-1.35, LOW / 2), dashed=True)
    canvas.part(elm.Switch(), (-1.5, LOW), (-1.5, 0))
    canvas.part(elm.FuseIEC(), (-1.5, 0), (-1.5, 1.2))
    canvas.words((-1.95, 0.6), "fuse", align="right")
    canvas.words((-1.5, 1.5), "from the booster", align="center", small=True)
    canvas.words((-2.2, LOW / 2), "contact,", "normally", "open", align="right")
    canvas.line((-1.5, LOW), (-1.5, -3.6))
    canvas.words((-1.5, -3.85), "to the spur's rail", align="center", small=True)
    _flyback(canvas, circuit)


def _buzzer(canvas: Canvas, circuit: OutputCircuit) -> None:
    canvas.line((0, 0), (0, -0.8))
    canvas.line((0, LOW), (0, -2.2))
    canvas.box((-1.2, -2.2), (0.7, -0.8))
    canvas.words((-0.25, -1.5), "buzzer", align="center")
    canvas.words((0.3, -0.5), "+")
    _flyback(canvas, circuit, 1.15)


def _flyback(canvas: Canvas, circuit: OutputCircuit, x: float = 1.0) -> None:
    """A diode of its own, where no ULN2803A has one inside; its cathode is at the plus."""
    if circuit.feed is not Feed.MOSFET:
        return
    canvas.part(elm.Diode().fill("black"), (x, LOW), (x, 0))
    canvas.dot((x, 0))
    canvas.dot((x, LOW))
    canvas.words((x, 0.45), "flyback diode:", "ring to plus", align="center", small=True)


def _resistor(circuit: OutputCircuit) -> str:
    return (
        ohms(circuit.resistor_ohm) if circuit.resistor_ohm else "no value fits: see the first page"
    )


_LOADS = {Part.LAMP: _lamp, Part.BOLT: _coil, Part.RELAY: _relay, Part.BUZZER: _buzzer}
