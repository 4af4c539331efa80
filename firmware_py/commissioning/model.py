"""What commissioning says and is told: instructions, answers, findings, and its evidence.

Times are whole microseconds (``_us``). A *source* is what makes a wire live: a contact in a
builder's hand, or a pin that drives an output. A *sensor* is where that is seen: the pin of a
contact, or the lamp that lights. Each has one name: ``thing.role`` or ``output of thing``.
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum

import msgspec


class Step(StrEnum):
    """What an instruction asks for."""

    PREPARE = "prepare"
    """Leave every contact not made; answered by ``DONE``."""
    LISTEN = "listen"
    """Touch nothing until ``until_us``; it ends by itself."""
    MAKE = "make"
    BREAK = "break"
    """Move the contact ``about``; ends by itself if it alone moves, else by ``DONE``."""
    DARK = "dark"
    """Nothing is driven: is anything on? Answered by ``SEEN``."""
    LOOK = "look"
    """Only ``about`` is driven: what is on? Answered by ``SEEN``."""
    FINISHED = "finished"


class Said(StrEnum):
    """What a builder can answer."""

    DONE = "done"
    SEEN = "seen"
    SKIP = "skip"


class Kind(StrEnum):
    """What can be found of a wire."""

    SWAPPED = "swapped"
    ELSEWHERE = "elsewhere"
    INVERTED = "inverted"
    DEAD = "dead"
    STUCK = "stuck"
    TOGETHER = "together"
    BOUNCING = "bouncing"
    NOISY = "noisy"
    LOST = "lost"
    UNCLEAR = "unclear"


class Instruction(msgspec.Struct, frozen=True):
    """What the builder is to do now. ``number`` grows by one with each.

    ``about`` is the contact or output, ``drive`` what is to be energised, all else being off;
    ``again`` says that it was asked before and nothing, or something else, was seen. ``remark``
    tells what was seen at the last one; ``until_us`` is when it ends by itself.
    """

    number: int
    step: Step
    text: str
    about: str | None = None
    drive: tuple[str, str] | None = None
    again: bool = False
    remark: str = ""
    until_us: int | None = None
    done: int = 0
    of: int = 0


class Answer(msgspec.Struct, frozen=True):
    """A builder's answer to the instruction of that number; ``seen`` are the outputs that are on.

    An answer to any other number is too late and is ignored.
    """

    number: int
    said: Said
    seen: tuple[str, ...] = ()


class Finding(msgspec.Struct, frozen=True):
    """Something wrong: ``names`` are the wires, in the order that ``text`` has them.

    ``longest_us`` and ``settle_us`` are of bouncing contacts: the longest bounce that was
    measured, and the settle time proposed (``None``: mend the contact, no time helps).
    """

    kind: Kind
    names: tuple[str, ...]
    text: str
    do: str
    longest_us: int | None = None
    settle_us: int | None = None


class Look(msgspec.Struct):
    """Which sources were made (or driven), and which sensors were made (or on) then.

    A sensor that could not be read is in neither list of what is known: it is left out.
    """

    made: list[str]
    levels: dict[str, bool]


class Burst(msgspec.Struct):
    """How one sensor took a move of one source: from first to last edge, and how many."""

    source: str
    sensor: str
    us: int
    edges: int


class Evidence(msgspec.Struct):
    """All that was seen, which is all that has to be kept to go on later.

    ``tested`` are the sources that were made and broken, ``heard`` the edges on each sensor
    while its circuit was open and nobody touched anything, ``lost`` the sensors that could not
    be read, ``moves`` how often each contact was moved, ``pins`` where each wire ended when this
    was seen, ``found`` what was wrong once.
    """

    looks: list[Look] = []
    lights: list[Look] = []
    tested: list[str] = []
    skipped: list[str] = []
    heard: dict[str, int] = {}
    bursts: list[Burst] = []
    moves: dict[str, int] = {}
    lost: list[str] = []
    pins: dict[str, str] = {}
    found: list[str] = []


@dataclass(frozen=True, slots=True)
class Wire:
    """A wire to be proven: ``name`` as everywhere, ``stand`` where it is, ``pin`` in words.

    ``placed`` is false while the layout gives it no pin.
    """

    name: str
    thing: str
    stand: str
    inverted: bool
    pin: str
    placed: bool
