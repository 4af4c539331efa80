"""Reads contacts and outputs, and sees to it that no pin is given twice."""

from __future__ import annotations

import re
from dataclasses import dataclass

from firmware_py.layout.errors import shown
from firmware_py.layout.lines import Path
from firmware_py.layout.model import ChipLine, Contact, HeaderPin, Output, Pin, Role, Times
from firmware_py.layout.tables import Span, Table

FIRST_PIN, LAST_PIN = 2, 27
"""The GPIOs of the 40-pin header that a layout may use."""

RIGHT = f'a GPIO from {FIRST_PIN} to {LAST_PIN}, a "chip:line" text, or "auto"'
"""What a pin may be, for messages."""

SETTLE = Span("seconds", low=0.0, high=60.0)
"""How long a contact may have to hold still."""

COILS = ("bolt", "power")
"""Outputs that must not be energised by a pin that nobody drives yet."""

_CHIP_LINE = re.compile(r"([A-Za-z0-9][A-Za-z0-9._-]*):([0-9]{1,4})")
_DIGITS = re.compile(r"(?:GPIO|BCM)? *([0-9]{1,2})", re.IGNORECASE)


@dataclass(frozen=True, slots=True)
class Use:
    """A pin that the file gives to a wire; ``sensing`` says that the wire is a contact's."""

    pin: Pin
    wire: str
    path: Path
    sensing: bool = False


class Wires:
    """Reads every wire of one layout, and remembers where each pin was given."""

    def __init__(self, times: Times) -> None:
        self.times = times
        self.uses: list[Use] = []

    def contact(self, contacts: Table, thing: str, role: Role) -> Contact | None:
        """The contact of that role, ``None`` where the file has none."""
        value = contacts.value(role.value)
        if value is None:
            return None
        settle_us = self.times.settle_us
        pin, inverted = None, False
        if isinstance(value, dict):
            table = contacts.table(role.value, "{ pin = 5 }")
            pin = self._pin_key(table, f"{thing}.{role}", sensing=True)
            settle_us = micros(table.number("settle", settle_us / 1e6, SETTLE))
            inverted = table.flag("inverted")
            table.finish()
        else:
            pin = self._pin(contacts, role.value, value, f"{thing}.{role}", sensing=True)
        clear_us = self.times.clear_after_us if role is Role.DETECTOR else settle_us
        return Contact(thing, role, pin, settle_us, clear_us, inverted)

    def needed(self, contacts: Table, thing: str, role: Role, why: str) -> Contact:
        """A contact that must be there; one without a pin stands in where it is not."""
        contact = self.contact(contacts, thing, role)
        if contact is None:
            right = f'give it a pin, or {role} = "auto" until it has one'
            contacts.missing(role, f": {why}; {right}")
            return Contact(thing, role, None, self.times.settle_us, self.times.settle_us)
        return contact

    def output(self, table: Table, thing: str, key: str) -> Output | None:
        """The driven wire of that name, ``None`` where the file has none."""
        value = table.value(key)
        if value is None:
            return None
        wire = f"{key} of {thing}"
        if not isinstance(value, dict):
            return Output(self._pin(table, key, value, wire))
        inner = table.table(key, "{ pin = 20 }")
        output = Output(self._pin_key(inner, wire), inner.flag("inverted"))
        accepted = inner.flag("accept_blip")
        if output.inverted and key in COILS and not accepted:
            inner.wrong(
                "inverted",
                f"inverted: {wire} would be energised by a low level, which is what its pin has "
                "while the Pi boots; use an active-high driver and take inverted out, or add "
                "accept_blip = true if you know that no harm can come of it",
            )
        inner.finish()
        return output

    def note_repeats(self, table: Table) -> None:
        """Note every pin that is given a second time, at the later place in the file."""
        problems = table.problems
        first: dict[Pin, Use] = {}
        for use in sorted(self.uses, key=lambda use: problems.lines.of(use.path) or 0):
            earlier = first.setdefault(use.pin, use)
            if earlier is not use:
                line = problems.lines.of(earlier.path)
                where = "" if line is None else f" on line {line}"
                problems.add(
                    use.path,
                    f"{pin_name(use.pin)} is given twice: to {use.wire} here and to "
                    f"{earlier.wire}{where}; each wire needs a pin of its own",
                )

    def _pin_key(self, table: Table, wire: str, *, sensing: bool = False) -> Pin:
        value = table.value("pin")
        if value is None:
            table.missing("pin", f"; write pin = 5, say: {RIGHT}")
            return None
        return self._pin(table, "pin", value, wire, sensing=sensing)

    def _pin(
        self, table: Table, key: str, value: object, wire: str, *, sensing: bool = False
    ) -> Pin:
        pin = None
        match value:
            case bool():
                table.wrong(key, f"{key} must be {RIGHT}, not {shown(value)}")
            case int():
                pin = _header_pin(table, key, value)
            case "auto":
                pass
            case str():
                pin = _chip_line(table, key, value)
            case _:
                table.wrong(key, f"{key} must be {RIGHT}, not {shown(value)}")
        if pin is not None:
            self.uses.append(Use(pin, wire, (*table.path, key), sensing))
        return pin


def micros(seconds: float) -> int:
    """Seconds as whole microseconds."""
    return round(seconds * 1_000_000)


def pin_name(pin: Pin) -> str:
    """A pin as people name it."""
    match pin:
        case HeaderPin(bcm):
            return f"GPIO {bcm}"
        case ChipLine(chip, line):
            return f"{chip}:{line}"
        case _:
            return "no pin"


def _header_pin(table: Table, key: str, value: int) -> Pin:
    if value in (0, 1):
        why = f"GPIO {value} is reserved for the EEPROM of add-on boards"
    elif not FIRST_PIN <= value <= LAST_PIN:
        why = f"the header has no GPIO {shown(value)}"
    else:
        return HeaderPin(value)
    table.wrong(key, f"{key}: {why}; use {RIGHT}")
    return None


def _chip_line(table: Table, key: str, value: str) -> Pin:
    match = _CHIP_LINE.fullmatch(value)
    if match is not None:
        return ChipLine(match[1], int(match[2]))
    number = _DIGITS.fullmatch(value)
    right = f"write the bare number {number[1]}" if number else f"it must be {RIGHT}"
    table.wrong(key, f"{key}: {shown(value)} names no pin; {right}")
    return None
