"""What right naming is, and whether the findings are that.

Findings are right if they, soldered into a sound harness, make one that no builder could tell
from the faulty one, whatever he moves and whatever he watches, and if they are not more than
the faults that were done. So an inverted wire that is also broken is rightly named dead; a
harness in which two swaps undo each other is rightly named sound; nothing that can be seen may
be missing, and nothing that can't be seen may be there.

Faults that share no wire, each of them visible, have to be named just as they were done.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Collection, Iterable, Iterator, Mapping
from itertools import combinations

from firmware_py.commissioning.model import Finding, Kind

from .faults import Fault, Harness, Wrong

NAMED = {
    Fault.SWAP: Kind.SWAPPED,
    Fault.INVERT: Kind.INVERTED,
    Fault.OPEN: Kind.DEAD,
    Fault.SHORT: Kind.TOGETHER,
    Fault.GROUND: Kind.STUCK,
    Fault.BOUNCE: Kind.BOUNCING,
    Fault.NOISE: Kind.NOISY,
    Fault.LAMP_SWAP: Kind.SWAPPED,
    Fault.LAMP_OPEN: Kind.DEAD,
}
Named = Counter[tuple[Kind, frozenset[str]]]


def complaint(
    wrong: list[Wrong],
    findings: Iterable[Finding],
    contacts: Mapping[str, bool],
    outputs: Mapping[str, bool],
    apart: Mapping[str, str],
) -> str | None:
    """What is not right about these findings; ``None`` if all is."""
    found = list(findings)
    for inverted in (contacts, outputs):
        mine = [one for one in wrong if one.names[0] in inverted]
        named = [one for one in found if one.names[0] in inverted]
        if size(named) > len(mine):
            return f"{size(named)} faults named for {len(mine)}"
        names = {name for one in mine for name in one.names}
        names |= {name for one in named for name in one.names}
        here = Harness(inverted, mine)
        there = soldered(inverted, named)
        for made in _positions(sorted(names), apart):
            moves = {name for name in names if _lies(made ^ {name}, apart)}
            if _look(here, made, moves) != _look(there, made, moves):
                return f"with {sorted(made)} made, what is named reads otherwise"
    if _disjoint(wrong) and as_done(wrong) != as_named(found):
        return "faults that share no wire are not named as they were done"
    return None


def as_done(wrong: Iterable[Wrong]) -> Named:
    """Faults, as findings would name them one by one."""
    return Counter((NAMED[one.fault], frozenset(one.names)) for one in wrong)


def as_named(findings: Iterable[Finding]) -> Named:
    """Findings, for comparing."""
    return Counter((one.kind, frozenset(one.names)) for one in findings)


def size(findings: Iterable[Finding]) -> int:
    """How many faults findings are: a round of three is two swaps, and so is a join of three."""
    several = (Kind.SWAPPED, Kind.TOGETHER)
    return sum(len(one.names) - 1 if one.kind in several else 1 for one in findings)


def soldered(inverted: Mapping[str, bool], findings: Iterable[Finding]) -> Harness:
    """A sound harness with just what is named done to it."""
    harness = Harness(inverted)
    for one in findings:
        first = one.names[0]
        match one.kind:
            case Kind.SWAPPED:
                pairs = zip(one.names, (*one.names[1:], first), strict=True)
                harness.ends.update(dict(pairs))
            case Kind.INVERTED:
                harness.turned.add(first)
            case Kind.DEAD:
                harness.broken.add(first)
            case Kind.STUCK:
                harness.grounded.add(first)
            case Kind.TOGETHER:
                for other in one.names[1:]:
                    harness.touch(first, other)
            case Kind.NOISY:
                harness.noisy.add(first)
            case Kind.BOUNCING:
                harness.bouncing.add(first)
            case _:
                raise AssertionError(f"nobody did this: {one.text}")
    harness.index()
    return harness


def _positions(names: list[str], apart: Mapping[str, str]) -> Iterator[frozenset[str]]:
    """Everything that hands can make of these; the points lie one way at a time."""
    for many in range(len(names) + 1):
        for made in combinations(names, many):
            if _lies(made, apart):
                yield frozenset(made)


def _lies(made: Collection[str], apart: Mapping[str, str]) -> bool:
    return not any(apart.get(name) in made for name in made)


def _look(harness: Harness, made: frozenset[str], moves: set[str]) -> tuple[object, ...]:
    """All that can be seen in a position: levels, where noise is heard, and which moves bounce."""
    levels = {name: harness.shows(name, made) for name in harness.inverted}
    hears = {
        sensor
        for sensor in harness.inverted
        if harness.net[sensor] & harness.noisy and not harness.closed(sensor, made)
    }
    bounces = {
        (name, sensor)
        for name in moves & harness.bouncing
        for sensor in harness.inverted
        if harness.shows(sensor, made) is not harness.shows(sensor, made ^ {name})
    }
    return levels, hears, bounces


def _disjoint(wrong: list[Wrong]) -> bool:
    names = [name for one in wrong for name in one.names]
    return len(names) == len(set(names))
