"""The circuits of contacts: the stand on the left, the box with its pin on the right."""

from __future__ import annotations

from schemdraw import elements as elm

from firmware_py.book.canvas import Canvas, Point
from firmware_py.book.circuit import ContactCircuit, Part
from firmware_py.wiring.contact_figures import FILTER_F, SERIES_OHM
from firmware_py.wiring.figure import plain

LOW, TOP = -3.0, 2.5
"""Where the lower wire of the lead runs, and where the halves are named."""

STAND_END, BOX_END, EDGE = 1.6, 4.6, 5.1
"""Where the lead's terminals are, and the box begins."""


def ohms(value: float) -> str:
    """``2.2 kΩ``."""
    return plain(value, "\N{GREEK CAPITAL LETTER OMEGA}")


def contact_svg(circuit: ContactCircuit) -> str:
    """The drawing of a contact's circuit."""
    canvas = Canvas()
    _PARTS[circuit.part](canvas)
    lead(canvas, 0, LOW)
    _box(canvas, circuit)
    halves(canvas, LOW - 0.75)
    return canvas.svg(contact_words(circuit))


def contact_words(circuit: ContactCircuit) -> str:
    """The drawing in words, for who can't see it."""
    told = [
        f"{circuit.part.value} between ground and the pin",
        f"{ohms(circuit.pull_up_ohm)} from the pin's wire to 3.3 V",
    ]
    if circuit.series:
        told.append(f"{ohms(SERIES_OHM)} in series before the pin")
    if circuit.filtered:
        told.append(f"{plain(FILTER_F, 'F')} from the pin to ground")
    if circuit.protected:
        told.append("a TVS diode where the lead comes in")
    return ", ".join(told)


def lead(canvas: Canvas, high: float, low: float) -> None:
    """The pair between the stand's terminals and the box's."""
    for y in (high, low):
        canvas.line((0, y), (STAND_END, y))
        canvas.line((STAND_END, y), (BOX_END, y))
        canvas.dot((STAND_END, y), open_=True)
        canvas.dot((BOX_END, y), open_=True)
    canvas.words(
        ((STAND_END + BOX_END) / 2, (high + low) / 2), "lead:", "twisted pair", align="center"
    )


def halves(canvas: Canvas, bottom: float) -> None:
    """Say which half is at the stand, and which in the box by the Pi."""
    canvas.line((EDGE, bottom), (EDGE, TOP), dashed=True)
    canvas.words((EDGE - 0.25, TOP - 0.15), "at the stand", align="right", small=True)
    canvas.words((EDGE + 0.25, TOP - 0.15), "in the box, by the Pi", small=True)


def pin(canvas: Canvas, at: Point) -> None:
    """The pin's flag."""
    x, y = at
    canvas.box((x, y - 0.35), (x + 1.3, y + 0.35))
    canvas.words((x + 0.65, y), "pin", align="center")


def _box(canvas: Canvas, circuit: ContactCircuit) -> None:
    """Everything at the Pi's end."""
    low = LOW
    x = 5.8
    canvas.line((BOX_END, 0), (x, 0))
    canvas.line((BOX_END, low), (x, low))
    canvas.ground((x, low))
    if circuit.protected:
        canvas.part(elm.DiodeTVS(), (x, 0), (x, low))
        canvas.dot((x, 0))
        canvas.words((x + 0.4, low / 2), "TVS", "3.3 V")
        canvas.line((x, 0), (x + 1.5, 0))
        x += 1.5
    canvas.part(elm.ResistorIEC(), (x, 0), (x, 1.2))
    canvas.plus((x, 1.2), "3.3 V")
    canvas.words((x + 0.35, 0.72), ohms(circuit.pull_up_ohm), "pull-up")
    canvas.dot((x, 0))
    if circuit.series:
        canvas.part(elm.ResistorIEC(), (x, 0), (x + 2.2, 0))
        canvas.words((x + 1.1, -0.5), ohms(SERIES_OHM), align="center")
        x += 2.2
    if circuit.filtered:
        canvas.part(elm.Capacitor(), (x, 0), (x, low))
        canvas.dot((x, 0))
        canvas.ground((x, low))
        canvas.words((x + 0.4, low / 2), plain(FILTER_F, "F"))
    canvas.line((x, 0), (x + 1.7, 0))
    pin(canvas, (x + 1.7, 0))


def _hasp(canvas: Canvas) -> None:
    middle = LOW / 2
    canvas.part(elm.Switch(), (0, middle), (0, 0))
    canvas.part(elm.Switch(), (0, LOW), (0, middle))
    canvas.words((-0.5, middle / 2), "micro switch:", "hasp closed", align="right")
    canvas.words((-0.5, middle * 1.5), "micro switch:", "shackle in", align="right")


def _micro(canvas: Canvas) -> None:
    canvas.part(elm.Switch(), (0, LOW), (0, 0))
    canvas.words((-0.5, LOW / 2), "micro switch", align="right")


def _button(canvas: Canvas) -> None:
    canvas.part(elm.Button(), (0, LOW), (0, 0))
    canvas.words((-0.75, LOW / 2), "push button,", "normally open", align="right")


def _reed(canvas: Canvas) -> None:
    canvas.part(elm.SwitchReed(), (0, LOW), (0, 0))
    canvas.words((-0.6, LOW / 2), "reed switch,", "closed by", "its magnet", align="right")


def _detector(canvas: Canvas) -> None:
    opto = canvas.add(
        elm.Optocoupler().linewidth(1.5).theta(0).at((-0.2, -0.8)).anchor("collector")
    )
    anchors = opto.absanchors
    emitter, anode, cathode = (anchors[name] for name in ("emitter", "anode", "cathode"))
    canvas.line((-0.2, -0.8), (0, -0.8), (0, 0))
    canvas.line((emitter.x, emitter.y), (0, emitter.y), (0, LOW))
    left = anode.x - 0.9
    for end in (anode, cathode):
        canvas.line((left, end.y), (end.x, end.y))
    canvas.box((left - 2.3, -2.9), (left, -0.1))
    canvas.words((left - 1.15, -1.5), "detector", "in the", "track feed", align="center")
    canvas.words((-1.4, -3.05), "isolated: light only", align="center", small=True)
    canvas.words((left - 1.15, -3.3), "track power", "ends here", align="center", small=True)


_PARTS = {
    Part.HASP: _hasp,
    Part.MICRO: _micro,
    Part.BUTTON: _button,
    Part.REED: _reed,
    Part.DETECTOR: _detector,
}
