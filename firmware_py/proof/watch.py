"""A watched core: where each thing that it remembers lies, and what the run is told."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any

from firmware_py.core.agenda import Timer
from firmware_py.core.contacts import Contact
from firmware_py.core.core import Core
from firmware_py.core.names import Rule
from firmware_py.core.spur import Spur
from firmware_py.core.stand import Stand
from firmware_py.layout.model import Layout
from firmware_py.proof.cells import Cell
from firmware_py.proof.memory import Memory

NOW_US = 1_000_000_000
"""When the event of every run happens; only what comes first and what is pending matters."""

ONE = 1
"""One violation that stands, or more: no rule asks how many."""

OWN_CONTACTS = ("hasp", "normal", "reverse", "detector")
"""The contacts that a switch itself reads."""


class Probe:
    """An output that stands for all of a stand's, and notes when it was shown anew."""

    def __init__(self, memory: Memory) -> None:
        self.memory = memory
        self.of, self.output = "probe", "probe"
        self.shows: object = None
        self.asked: object = None
        self.seen = 0

    def look(self) -> object:
        """Note that it was looked at; what it shows is new each time."""
        self.seen = len(self.memory.log)
        self.asked = object()
        return self.asked


@dataclass(frozen=True, slots=True)
class Report:
    """What a stand's spurs and outputs are told of what the switch did in an event."""

    stand: int
    turn: int
    quiet: bool
    anew: bool
    breaches: tuple[tuple[int, Rule, str, str | None, tuple[str, ...], int], ...]


@dataclass(slots=True)
class Watch:
    """A core and where each thing that it remembers lies."""

    layout: Layout
    core: Core
    memory: Memory
    settled: dict[str, Cell] = field(default_factory=dict)
    chattering: dict[str, Cell] = field(default_factory=dict)
    pending: dict[Timer, Cell] = field(default_factory=dict)
    says: dict[str, Cell] = field(default_factory=dict)
    testing: dict[str, Cell] = field(default_factory=dict)
    of_switch: dict[str, dict[str, Cell]] = field(default_factory=dict)
    of_spur: dict[str, dict[str, Cell]] = field(default_factory=dict)
    open: dict[int, Cell] = field(default_factory=dict)
    due: dict[Timer, int | None] = field(default_factory=dict)
    reports: list[Report] | None = None
    lately: bool | None = None
    """Whether what the run raised was raised lately too, and stands; ``None``: not asked yet."""
    apart: bool = True
    """Whether a switch's deadlines are left as they are: ``explore`` moves them by themselves."""
    vague: bool = False
    concluded: dict[Spur, int] = field(default_factory=dict)
    """How much had been written when a spur concluded the event."""
    probe: Probe | None = None
    told: Report | None = None
    """Where the run is to end as a stand begins to conclude: what its switch reports then."""
    raised: list[tuple[Rule, str, tuple[str, ...], int, bool]] = field(default_factory=list)
    """What the run raised: rule, thing, what was missing, stand, and whether it was a repeat."""

    @property
    def stands(self) -> tuple[Stand, ...]:
        """The stands of the core."""
        return self.core._machines.stands

    @property
    def spurs(self) -> dict[str, Spur]:
        """The spurs of the core, by id."""
        return self.core._machines.spurs

    @property
    def contacts(self) -> dict[str, Contact]:
        """The contacts of the core, by name."""
        return self.core._contacts


def swap(thing: object, names: Mapping[str, Any]) -> None:
    """Give ``thing`` its class's code with some of its attributes laid open."""
    own = type(thing)
    made: Any = type(f"Watched{own.__name__}", (own,), {"__slots__": (), **names})
    thing.__class__ = made
