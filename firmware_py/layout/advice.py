"""Advice on a layout that can be read: nothing here is an error, all of it deserves a look.

The facts about pins are those of the Pi's 40-pin header as Raspberry Pi's documentation gives
them: which pins have fixed pull-ups, which way the pulls point at power-on, what the serial
console, SPI and I2C use. The pull directions on a Pi 5 are taken to be the same (from memory).
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from firmware_py.layout.model import (
    ChipLine,
    Contact,
    HeaderPin,
    Layout,
    Lock,
    Output,
    Pin,
    Thing,
    outputs_of,
)

FIXED_PULL_UPS = (2, 3)
SERIAL = (14, 15)
SERIAL_OUT = 14
SPI = range(7, 12)
PULLED_UP_AT_BOOT = range(9)
LAMP_BUDGET = 16
"""Lamps at 3 mA each that the header's 50 mA limit allows."""

COILS = ("bolt", "power", "buzzer")
"""Outputs that drive more than a lamp."""


@dataclass(frozen=True, slots=True)
class Advice:
    """One piece of advice: what it concerns, and what to do about it."""

    about: str
    text: str


def advice_on(layout: Layout) -> tuple[Advice, ...]:
    """All advice on a layout: what is missing first, then pins."""
    return (*_missing(layout), *_pins(layout), *_no_pin(layout), *_budget(layout))


def _missing(layout: Layout) -> Iterator[Advice]:
    chocked = {chock.spur for chock in layout.chocks}
    for spur in layout.spurs:
        if spur.grade_percent >= layout.chock_from_percent and spur.id not in chocked:
            grade = f"a grade of {spur.grade_percent:g} %"
            yield Advice(spur.id, f"{grade} and no chock; cars left there may roll: add one")
    used = {spur.switch for spur in layout.spurs}
    keys = {*(switch.key for switch in layout.switches), *(gate.key for gate in layout.gates)}
    for switch in layout.switches:
        if switch.lock is Lock.NONE:
            yield Advice(
                switch.id, "no padlock, which is right only where it does not leave the main"
            )
        if switch.bolt is not None and switch.hasp is None:
            yield Advice(switch.id, "a bolt but no hasp for it to hold")
        if switch.id not in used:
            yield Advice(switch.id, "leads to no spur; it is watched, but no crew is led there")
    for key in layout.keys:
        if key.id not in keys:
            yield Advice(key.id, "opens nothing; name it as the key of a switch or gate")


def _pins(layout: Layout) -> Iterator[Advice]:
    wires = list(_wires(layout))
    described = {chip.id for chip in layout.chips}
    # A described chip takes its bus's pins by itself: giving them away is an error, not advice.
    expanders = any(
        isinstance(wire.pin, ChipLine) and wire.pin.chip not in described for _, wire in wires
    )
    console = layout.wiring.serial_console is not False
    for name, wire in wires:
        match wire.pin:
            case HeaderPin(bcm):
                if isinstance(wire, Contact):
                    unfit = _unfit_input(bcm, console)
                else:
                    unfit = _unfit(name, wire, bcm)
                if unfit:
                    yield Advice(name, f"GPIO {bcm} {unfit}")
                elif expanders and bcm in SPI:
                    yield Advice(name, f"GPIO {bcm} is an SPI pin, which an expander may need")
            case ChipLine(chip="gpiochip0"):
                yield Advice(name, "gpiochip0 is most often the header; write the bare number")


def _unfit_input(bcm: int, console: bool) -> str | None:
    if bcm in FIXED_PULL_UPS:
        return "has a fixed pull-up and is the I2C bus; use one of 4-13 or 16-27"
    if bcm in SERIAL and console:
        return "is the serial console's; turn that off, or use one of 4-13 or 16-27"
    return None


def _unfit(name: str, output: Output, bcm: int) -> str | None:
    use = "use one of 9-13 or 16-27"
    if bcm == SERIAL_OUT:
        return f"goes high while the Pi boots; {use}"
    if not output.inverted and bcm in PULLED_UP_AT_BOOT:
        return f"is pulled up at power-on, so the output may half turn on; {use}"
    if output.inverted and name.startswith(COILS):
        return "drives on a low level, which blips at start; use an active-high driver"
    if bcm == SERIAL[1]:
        return f"is the serial console's; {use}"
    return None


def _no_pin(layout: Layout) -> Iterator[Advice]:
    names = [name for name, wire in _wires(layout) if wire.pin is None]
    if names:
        more = "" if len(names) <= 4 else f" and {len(names) - 4} more"
        yield Advice("auto", f"no pin yet for {', '.join(names[:4])}{more}; give each of them one")


def _budget(layout: Layout) -> Iterator[Advice]:
    driven = sum(
        isinstance(wire, Output) and isinstance(wire.pin, HeaderPin) and not name.startswith(COILS)
        for name, wire in _wires(layout)
    )
    if driven > LAMP_BUDGET:
        limit = f"at 3 mA each it feeds {LAMP_BUDGET} (50 mA in all)"
        yield Advice("outputs", f"{driven} lamps hang on the header; {limit}, so use driver chips")


def wires_of(thing: Thing) -> tuple[tuple[str, Contact | Output], ...]:
    """The wires of a thing: ``thing.role`` for contacts, ``output of thing`` for outputs."""
    return (
        *((contact.name, contact) for contact in thing.contacts),
        *((f"{output} of {thing.id}", wire) for output, wire in outputs_of(thing)),
    )


def pins_of(layout: Layout) -> tuple[tuple[str, Pin], ...]:
    """Every wire of a layout with the pin it ends on."""
    return tuple((name, wire.pin) for name, wire in _wires(layout))


def _wires(layout: Layout) -> Iterator[tuple[str, Contact | Output]]:
    for thing in layout.things:
        yield from wires_of(thing)
