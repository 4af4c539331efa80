"""The layout as whoever judges it knows it, from the rulebook and not from the core's machines."""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping, Sequence

from firmware_py.core.entries import Violation
from firmware_py.core.names import Foreman
from firmware_py.layout.model import FOREMAN, Chock, Derail, Flag, Gate, Layout, Spur, Switch

Settled = Mapping[str, bool | None]


class Ground:
    """A layout, arranged for whoever has to judge what is shown on it."""

    def __init__(self, layout: Layout) -> None:
        self.layout = layout
        self.spurs_at = {
            switch.id: [spur for spur in layout.spurs if spur.switch == switch.id]
            for switch in layout.switches
        }
        self.things = {thing.id: thing for thing in layout.things}
        self.stand_of = {switch.id: switch.id for switch in layout.switches}
        for spur in layout.spurs:
            self.stand_of[spur.id] = spur.switch
        for kind in (layout.gates, layout.derails, layout.flags, layout.chocks):
            for thing in kind:
                self.stand_of[thing.id] = self.stand_of[thing.spur]

    def contacts_of(self, thing: str) -> tuple[str, ...]:
        return tuple(contact.name for contact in self.things[thing].contacts)


class OpenViolations:
    """Counts the violations that nobody has acknowledged, by stand, from entries and orders."""

    def __init__(self, ground: Ground) -> None:
        self._ground = ground
        self._at: dict[int, str | None] = {}
        self.count: Counter[str] = Counter()

    def raised(self, violation: Violation) -> None:
        if violation.number in self._at:
            return  # It was told before its engine went, and is told again after.
        stand = self._ground.stand_of.get(violation.at)
        self._at[violation.number] = stand
        if stand is not None:
            self.count[stand] += 1

    def acknowledged(self, number: int) -> None:
        stand = self._at.get(number)
        if stand is not None:
            self._at[number] = None
            self.count[stand] -= 1


def say(ground: Ground, step: str) -> Sequence[str]:
    """The contacts that say whether something is off."""
    thing = ground.things[step]
    match thing:
        case Switch():
            hasp = () if thing.hasp is None else (thing.hasp.name,)
            return (*hasp, thing.normal.name, thing.reverse.name)
        case Gate():
            return (thing.shut.name,)
        case Derail():
            return (thing.on.name,)
        case Flag() | Chock():
            return (thing.rack.name,)
    return ()


def may_unlock(
    ground: Ground, spur: Spur, settled: Settled, foremen: Mapping[str, Foreman]
) -> bool:
    """Whether everything before the switch is off, so that it is its turn."""
    before = spur.opening[: spur.opening.index(spur.switch)]
    return all(is_off(ground, spur, step, settled, foremen) for step in before)


def is_off(
    ground: Ground, spur: Spur, step: str, settled: Settled, foremen: Mapping[str, Foreman]
) -> bool:
    """Rulebook section 6, the column *is off while*."""
    if step == FOREMAN:
        return foremen[spur.id] is Foreman.RELEASED
    thing = ground.things[step]
    match thing:
        case Switch():
            unlocked = thing.hasp is None or settled[thing.hasp.name] is False
            reverse = settled[thing.reverse.name] is True and settled[thing.normal.name] is False
            return unlocked and reverse
        case Gate():
            return settled[thing.shut.name] is False
        case Derail():
            return settled[thing.on.name] is False
        case Flag() | Chock():
            return settled[thing.rack.name] is True
    return False
