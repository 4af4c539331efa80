"""Everything at its worst: from where each thing's own way back is the longest.

How long it is depends on the thing's contacts alone, so hands count their moves on a list of
contacts, from every way in which they can stand.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from itertools import product

from firmware_py.core.names import Command, Phase
from firmware_py.layout import model
from firmware_py.proof.putting_back import Hands

Standing = dict[str, bool | None]
ANY = (True, False, None)


class Listed:
    """Contacts in a list, where hands count their moves."""

    def __init__(self, layout: model.Layout, standing: Standing) -> None:
        self.layout = layout
        self.standing = standing

    def value(self, contact: model.Contact) -> bool | None:
        """How a contact stands."""
        return self.standing.get(contact.name, contact.role in model.MADE_AT_REST)

    def put(self, contact: model.Contact, made: bool) -> None:
        """Move it."""
        self.standing[contact.name] = made

    def order(self, command: Command, spur: str) -> None:
        """Nobody listens."""

    def phase(self, spur: str) -> Phase:
        """Idle: contacts alone are looked at."""
        return Phase.IDLE

    def is_released(self, spur: str) -> bool:
        """It is not."""
        return False


def groups(layout: model.Layout) -> Iterator[tuple[model.Thing, ...]]:
    """The switch with its spurs, and things that lie behind each other's gates, together."""
    yield (*layout.switches, *layout.spurs)
    behind = {it.id: it for it in protections(layout)}
    found: dict[str, list[model.Thing]] = {}
    for spur in layout.spurs:
        for thing in (behind[step] for step in spur.closing if step in behind):
            found.setdefault(_outermost(thing, behind), []).append(thing)
    yield from map(tuple, found.values())


def _outermost(thing: model.Protection, behind: Mapping[str, model.Protection]) -> str:
    seen = [thing.id]
    while (gate := behind.get(thing.behind or "")) and gate.id not in seen:
        thing = gate
        seen.append(thing.id)
    return seen[-1]


def protections(layout: model.Layout) -> tuple[model.Protection, ...]:
    """What protects the spurs, beside switch and foreman, kind by kind."""
    return (*layout.gates, *layout.derails, *layout.flags, *layout.chocks)


def ranked(layout: model.Layout, things: tuple[model.Thing, ...]) -> dict[int, list[Standing]]:
    """For each number of moves (keys left out) how things may stand to take so many.

    The most moves come first, and for each number the plainest way to stand.
    """
    names = [it.name for thing in things for it in thing.contacts if _is_put_back(thing, it)]
    found: list[tuple[tuple[int, int, int], Standing]] = []
    for values in product(ANY, repeat=len(names)):
        standing = dict(zip(names, values, strict=True))
        hands = Hands(Listed(layout, dict(standing)))
        for thing in things:
            if isinstance(thing, model.Switch):
                hands.switch_back(thing)
            else:
                hands.put_back(thing)
        first = things[0]
        normal = isinstance(first, model.Switch) and standing[first.normal.name] is not False
        unknown = sum(value is None for value in values)
        found.append(((hands.keys - len(hands.said), unknown, normal), standing))
    found.sort(key=lambda it: it[0])
    ranks: dict[int, list[Standing]] = {}
    for (rank, _, _), standing in found:
        ranks.setdefault(-rank, []).append(standing)
    return ranks


def _is_put_back(thing: model.Thing, contact: model.Contact) -> bool:
    """Whether hands have to do with a contact; of detectors only with one under points."""
    if contact.role is model.Role.DETECTOR:
        return isinstance(thing, model.Switch)
    return contact.role is not model.Role.BUTTON
