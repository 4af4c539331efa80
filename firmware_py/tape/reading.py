"""Reading a tape: JSON Lines, checked line by line as they stream by, in flat memory."""

from __future__ import annotations

from collections.abc import Iterator
from typing import BinaryIO

import msgspec
from msgspec import UNSET, UnsetType

from firmware_py.core.names import Command
from firmware_py.core.orders import Order
from firmware_py.layout.model import Layout
from firmware_py.tape.errors import TapeError

LONGEST_LINE = 4096
"""Bytes. The longest honest line is far shorter; a longer one is not read to its end."""

LATEST_SECONDS = 1_000_000_000
"""About 31 years, up to which a microsecond is exact in a JSON number."""

_ONE_EACH = "one line holds one reading or command"
_KEYS = "t with contact and made, with command, or with end"


class RawReading(msgspec.Struct, frozen=True):
    """A raw reading: ``made`` is ``None`` where the contact doesn't answer."""

    t_us: int
    contact: str
    made: bool | None


class TapeOrder(msgspec.Struct, frozen=True):
    """An order and when it was given."""

    t_us: int
    order: Order


class End(msgspec.Struct, frozen=True):
    """The tape's end, up to which deadlines run."""

    t_us: int


TapeLine = RawReading | TapeOrder | End


class _Line(msgspec.Struct, forbid_unknown_fields=True):
    t: float
    contact: str | UnsetType = UNSET
    made: bool | UnsetType | None = UNSET
    command: str | UnsetType = UNSET
    spur: str | UnsetType = UNSET
    violation: int | UnsetType = UNSET
    cars: int | UnsetType = UNSET
    end: bool | UnsetType = UNSET


class TapeReader:
    """Reads the lines of one tape and checks them against the layout.

    Iterating gives a ``TapeLine`` at a time; raises ``TapeError`` at the first line that
    can't be taken.
    """

    def __init__(self, layout: Layout, stream: BinaryIO, file: str) -> None:
        self._stream = stream
        self._file = file
        self._decode = msgspec.json.Decoder(_Line).decode
        self._contacts = {contact.name for contact in layout.contacts}
        self._spurs = {spur.id for spur in layout.spurs}
        self._number = 0
        self._last_us = 0
        self._ended = False

    def __iter__(self) -> Iterator[TapeLine]:
        readline = self._stream.readline
        while text := readline(LONGEST_LINE + 1):
            self._number += 1
            if len(text) > LONGEST_LINE:
                raise self._error(f"the line is longer than {LONGEST_LINE} bytes; {_ONE_EACH}")
            if not text.isspace():
                yield self._line(text)

    def _line(self, text: bytes) -> TapeLine:
        line = self._decoded(text)
        if self._ended:
            raise self._error('a line after the end; {"t": ..., "end": true} must be the last')
        t_us = self._time(line.t)
        if line.contact is not UNSET:
            return self._reading(t_us, line, line.contact)
        if line.command is not UNSET:
            return TapeOrder(t_us, self._order(line, line.command))
        if line.end is not True or line != _Line(t=line.t, end=True):
            raise self._error(f"this is no reading, no command and no end; a line has {_KEYS}")
        self._ended = True
        return End(t_us)

    def _decoded(self, text: bytes) -> _Line:
        try:
            return self._decode(text)
        except msgspec.ValidationError as error:
            raise self._error(f"{_misfit(str(error))}; a line has {_KEYS}") from error
        except (msgspec.DecodeError, UnicodeDecodeError) as error:
            problem = f"this is not a whole line of JSON ({_plain(str(error))})"
            raise self._error(f'{problem}; right would be {{"t": 4.2, ...}}') from error

    def _time(self, t: float) -> int:
        if not 0 <= t <= LATEST_SECONDS:
            raise self._error(f"t is {t:g}; it must be between 0 and {LATEST_SECONDS} seconds")
        t_us = round(t * 1_000_000)
        if t_us < self._last_us:
            before = self._last_us / 1_000_000
            raise self._error(f"t falls from {before:g} to {t:g}; it must never fall")
        self._last_us = t_us
        return t_us

    def _reading(self, t_us: int, line: _Line, contact: str) -> RawReading:
        made = line.made
        if made is UNSET:
            raise self._error(f'the reading of {contact} lacks "made": true, false or null')
        if line != _Line(t=line.t, contact=contact, made=made):
            raise self._error(f"the reading of {contact} has more than t, contact and made")
        if contact not in self._contacts:
            raise self._error(f"the layout has no contact {contact!r}{self._near(contact)}")
        return RawReading(t_us, contact, made)

    def _near(self, contact: str) -> str:
        thing = contact.partition(".")[0]
        near = sorted(name for name in self._contacts if name.partition(".")[0] == thing)
        return f"; {thing} has {', '.join(near)}" if near else "; the layout file names them all"

    def _order(self, line: _Line, word: str) -> Order:
        try:
            command = Command(word)
        except ValueError:
            known = ", ".join(Command)
            raise self._error(f"there is no command {word!r}; there are {known}") from None
        spur = None if line.spur is UNSET else line.spur
        violation = None if line.violation is UNSET else line.violation
        cars = None if line.cars is UNSET else line.cars
        order = Order(command, spur, violation, cars)
        if line.made is not UNSET or line.end is not UNSET:
            raise self._error("a command has no made and no end")
        self._check(order)
        return order

    def _check(self, order: Order) -> None:
        command = order.command
        if command is Command.ACKNOWLEDGE:
            if order.violation is None or order.spur is not None or order.cars is not None:
                raise self._error("acknowledge goes with violation, the violation's number, alone")
            return
        if order.spur is None or order.violation is not None:
            raise self._error(f"{command} goes with spur, not with a violation")
        if order.spur not in self._spurs:
            known = ", ".join(sorted(self._spurs)) or "none"
            raise self._error(f"the layout has no spur {order.spur!r}; it has {known}")
        if (order.cars is not None) != (command is Command.START_BRAKE_TEST):
            raise self._error("cars goes with start-brake-test, and start-brake-test with cars")
        if order.cars is not None and not 1 <= order.cars <= 1000:
            raise self._error(f"cars is {order.cars}; a brake test is for 1 to 1000 cars")

    def _error(self, problem: str) -> TapeError:
        return TapeError(self._file, self._number, problem)


_RIGHT = {
    "t": "a number of seconds",
    "contact": 'a text such as "kiln-switch.hasp"',
    "made": "true, false or null",
    "command": 'a text such as "ask"',
    "spur": "a text, the spur's id",
    "violation": "a whole number, the violation's",
    "cars": "a whole number",
    "end": "true",
}


def _misfit(problem: str) -> str:
    """The decoder's complaint in the words of whoever writes tapes."""
    key = problem.rpartition("$.")[2].rstrip("`")
    if "$." in problem and key in _RIGHT:
        return f"{key} must be {_RIGHT[key]}"
    return _plain(problem)


def _plain(problem: str) -> str:
    return problem.replace("Object", "the line").replace("`", "").replace("$.", "")
