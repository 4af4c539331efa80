"""What a judge finds, and how it is told."""

from __future__ import annotations

from dataclasses import dataclass

from firmware_py.proof.cells import Cell, Part
from firmware_py.proof.watch import Watch

UNSHOWN = "what an output is to show is not shown"
OUGHT = ", and ought to show "
ENOUGH = 20
"""Findings that are kept; one false condition is met from many states."""


@dataclass(frozen=True, slots=True)
class Finding:
    """Something false: of which property, what, after which move, and how things stood."""

    number: int
    what: str
    after: str
    stand: int
    on: str
    stood: tuple[tuple[str, object], ...]
    """How contacts stood before the move, where that mattered."""
    hidden: bool = False
    """Whether it lies inside the core, where no tape shows it until something comes of it."""


def how_it_stood(watch: Watch) -> tuple[tuple[str, object], ...]:
    """Contacts as they stood before the run, where that has mattered to it."""
    memory, found = watch.memory, list[tuple[str, object]]()
    names = {cell: name for name, cell in watch.settled.items()}
    for part in memory.parts:
        domain = memory.domain[part.place]
        if domain and domain != part.full:
            found += [(names[c], v) for c, v in _example(part, domain) if c in names]
    return tuple(found)


def _example(part: Part, domain: int) -> list[tuple[Cell, object]]:
    state = part.states[(domain & -domain).bit_length() - 1]
    return list(zip(part.cells, state, strict=True))


def said(breach: object) -> str:
    """A breach in words: the rule, and where."""
    assert isinstance(breach, tuple), "a rule and a thing"
    return " at ".join(str(word) for word in breach[:2])
