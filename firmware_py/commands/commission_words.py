"""What is typed at a commissioning, how it ends, and how the terminal hears of its pages."""

from __future__ import annotations

from collections.abc import Container
from enum import Enum
from typing import NamedTuple

from firmware_py.commissioning.asking import Asked, Say


class Ended(Enum):
    """How a sitting ended."""

    STOPPED = "stopped"
    THROUGH = "through"
    SIGNED = "signed"
    """By the phone: the pages' ``signing`` is what is to be written."""


class SignedError(Exception):
    """The phone was first with the record that is just being written at the terminal."""


class Line(NamedTuple):
    """What was typed (``None``: nothing ever comes any more), and when."""

    came_us: int
    text: str | None


HELP = """\
  Enter            it is done (a contact that moves as it should needs no Enter)
  y, n             only that is on; nothing is on
  red of kiln-switch, green of ...
                   that is on (several with commas between)
  skip             leave this wire untested
  repeat STAND     test the wires of a stand or thing again
  stands           which stands there are
  end              skip all that is left, and write the record
  stop             stop; the same command goes on later
  help             these lines"""
HELP_HANDS = """\
  do               (simulated pins) hands do what is asked
  make CONTACT, break CONTACT
                   (simulated pins) hands move a contact"""


def is_no_answer(line: str) -> bool:
    """Whether a line answers no step, so that it can't be too late for one."""
    return line.partition(" ")[0] in {"help", "stands", "make", "break"}


def seen_in(line: str, about: str | None, outputs: Container[str]) -> tuple[str, ...] | None:
    """Which outputs a line says are on; ``None`` if it can't be understood."""
    if line in ("n", "no"):
        return ()
    if line in ("y", "yes"):
        return (about,) if about else None
    names = tuple(" ".join(name.split()) for name in line.split(","))
    strange = [name for name in names if name not in outputs]
    return None if strange or not line else names


def of_phone(asked: Asked) -> str:
    """What a page has asked, for the terminal."""
    match asked.say:
        case Say.SEEN:
            return f"on: {', '.join(asked.seen)}" if asked.seen else "nothing is on"
        case Say.REPEAT:
            return f"repeat {asked.stand}"
        case Say.REST:
            return "stop for now"
        case Say.GO_ON:
            return "go on"
        case _:
            return asked.say.value
