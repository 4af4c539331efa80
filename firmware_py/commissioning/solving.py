"""From what was seen to the smallest set of faults that explains all of it.

Each sensor shows a wired-or: its circuit is closed while any source that is joined to it is. In
bits, one for each look, a source has two literals (as it is meant, and turned about); a sensor's
bits must be the *or* of the literals of the leads that end at it, or joined to it. Sensors that
always show the same are joined; one lead ends at each sensor, so what is seen nowhere and what
is free belong together.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field

from firmware_py.commissioning.model import Look


@dataclass(slots=True)
class Picture:
    """How the wires really run. ``lead_at`` gives for each sensor the source whose lead is there.

    ``rounds`` are the cycles of leads that took each other's place, ``strays`` leads at a sensor
    whose own source was not tested. ``joined`` are groups of sources whose leads touch.
    ``veiled`` are the sensors where a closed circuit may hide something else: those always
    closed, and joined ones that rest closed. ``unseen`` are tested sources that no sensor shows.
    """

    lead_at: dict[str, str] = field(default_factory=dict)
    inverted: list[str] = field(default_factory=list)
    dead: list[str] = field(default_factory=list)
    stuck: list[str] = field(default_factory=list)
    joined: list[tuple[str, ...]] = field(default_factory=list)
    rounds: list[tuple[str, ...]] = field(default_factory=list)
    strays: list[tuple[str, str]] = field(default_factory=list)
    unclear: list[str] = field(default_factory=list)
    veiled: list[str] = field(default_factory=list)
    unseen: list[str] = field(default_factory=list)
    seen_at: dict[str, list[str]] = field(default_factory=dict)


@dataclass(frozen=True, slots=True)
class _Bits:
    """A sensor's levels: ``value`` has a bit for each look, ``known`` says which are known."""

    value: int
    known: int

    @property
    def open(self) -> bool:
        return self.value == 0

    @property
    def closed(self) -> bool:
        return self.value == self.known


def solve(looks: Sequence[Look], tested: Sequence[str], inverted: Mapping[str, bool]) -> Picture:
    """Explain looks. ``inverted`` holds every wire: whether it is closed while *not* made.

    ``tested`` are the sources that were made and broken, in the layout's order.
    """
    return _Solver(looks, tested, inverted).solve()


class _Solver:
    def __init__(
        self, looks: Sequence[Look], tested: Sequence[str], inverted: Mapping[str, bool]
    ) -> None:
        self.tested = list(tested)
        self.every = (1 << len(looks)) - 1
        self.literals = {name: self._literal(looks, name, inverted[name]) for name in tested}
        self.sensors: dict[str, _Bits] = {}
        for name, turned in inverted.items():
            bits = _sensor(looks, name, turned)
            if bits.known:
                self.sensors[name] = bits
        self.picture = Picture()
        self.shown: dict[str, tuple[str, bool]] = {}
        """Each source that was seen: the sensor where its lead is, and whether turned about."""

    def solve(self) -> Picture:
        """Work it out."""
        groups = self._groups()
        for group in sorted(groups, key=len):
            self._explain(group)
        picture = self.picture
        picture.unseen = [name for name in self.tested if name not in picture.seen_at]
        self._land()
        picture.lead_at = {at: name for name, (at, _) in self.shown.items()}
        for group in groups:
            self._judge(group)
        picture.inverted = [n for n in self.tested if self.shown.get(n, ("", False))[1]]
        return picture

    def _literal(self, looks: Sequence[Look], name: str, turned: bool) -> int:
        return sum(1 << at for at, look in enumerate(looks) if (name in look.made) is not turned)

    def _groups(self) -> list[list[str]]:
        """The sensors whose bits are the same and change; each other one by itself."""
        groups: list[list[str]] = []
        moving: list[list[str]] = []
        for name, bits in self.sensors.items():
            if bits.open or bits.closed:
                groups.append([name])
                continue
            alike = next((g for g in moving if self._alike(self.sensors[g[0]], bits)), None)
            if alike is None:
                moving.append([name])
            else:
                alike.append(name)
        return groups + moving

    def _alike(self, one: _Bits, other: _Bits) -> bool:
        known = one.known & other.known
        both = one.value & known
        return both == other.value & known and both not in (0, known)

    def _explain(self, group: list[str]) -> None:
        """Say which sources a group shows, and at which of its sensors each lead is."""
        bits = self.sensors[group[0]]
        if bits.open or bits.closed:
            if bits.closed:
                self.picture.veiled += group
            return
        found = self._members(group, bits)
        if found is None:
            self.picture.unclear += group
            return
        if len(group) > 1 and bits.value & 1:
            self.picture.veiled += group
        own = [name for name in found if name in group]
        free = [name for name in group if name not in own]
        for name, turned in found.items():
            at = name if name in own else (free.pop(0) if free else group[0])
            self.shown.setdefault(name, (at, turned))
            self.picture.seen_at[name] = group

    def _members(self, group: list[str], bits: _Bits) -> dict[str, bool] | None:
        """The sources of a group with whether each is turned about; ``None``: none explain it."""
        left = [name for name in self.tested if name not in self.shown]
        # One lead ends at a sensor by itself, so the simplest is that it shows just one source.
        if len(group) == 1:
            for name in (group[0], *left):
                for turned in (False, True):
                    if name in left and self._bits(name, turned) & bits.known == bits.value:
                        return {name: turned}
        found: dict[str, bool] = {}
        told = 0
        for name in sorted(left, key=lambda one: one not in group):
            fits = self._fits(name, bits)
            if fits is None:
                continue
            literal = self._bits(name, fits) & bits.known
            # Another's lead is here only if something is left that nothing else explains.
            if name in group or literal & ~told:
                found[name] = fits
                told |= literal
        return found if told == bits.value else None

    def _fits(self, name: str, bits: _Bits) -> bool | None:
        """Whether a source could be at a sensor: as it is meant, turned about, or (None) not."""
        for turned in (False, True):
            literal = self._bits(name, turned) & bits.known
            if literal and not literal & ~bits.value:
                return turned
        return None

    def _bits(self, name: str, turned: bool) -> int:
        literal = self.literals[name]
        return self.every & ~literal if turned else literal

    def _land(self) -> None:
        """Give each lead that was seen nowhere a sensor: its own, or the end of a broken chain."""
        taken = {at: name for name, (at, _) in self.shown.items()}
        waiting = [name for name in self.tested if name not in self.shown]
        for name in [name for name in waiting if name not in taken]:
            taken[name] = name
            self.shown[name] = (name, False)
            waiting.remove(name)
        # From an unseen lead's own sensor, go back along who took whose place to the free one.
        for name in waiting:
            at = name
            while at in taken and taken[at] != at:
                at = taken[at]
                if at == name:
                    break
            if at not in taken:
                taken[at] = name
                self.shown[name] = (at, False)
        self._rounds(taken)

    def _rounds(self, taken: Mapping[str, str]) -> None:
        done: set[str] = set()
        for first in self.tested:
            way = [first]
            while (at := self.shown.get(way[-1], (way[-1], False))[0]) not in way:
                way.append(at)
            if at != first:
                continue
            if len(way) > 1 and not done & {*way}:
                done |= {*way}
                self.picture.rounds.append(tuple(way))
        for name, (at, _) in self.shown.items():
            if at != name and name not in done:
                self.picture.strays.append((name, at))

    def _judge(self, group: list[str]) -> None:
        """Name what a group's leads are, now that it is known which leads are there."""
        picture, bits = self.picture, self.sensors[group[0]]
        leads = [picture.lead_at[at] for at in group if at in picture.lead_at]
        if bits.closed:
            picture.stuck += [name for name in leads if name in self.tested]
            return
        here = {name for name, at in picture.seen_at.items() if at is group}
        leads += [name for name in self.tested if name in here and name not in leads]
        if len(leads) > 1 or len(group) > 1:
            picture.joined.append(tuple(sorted({*leads, *self._untested(group)}, key=self._order)))
        if not any(at in picture.unclear for at in group):
            # What can't be seen where it is, since something else always covers it, is sound.
            picture.dead += [
                name
                for name in leads
                if name in picture.unseen and self._fits(name, bits) is not False
            ]

    def _untested(self, group: list[str]) -> Iterable[str]:
        """Sensors of a group of which no lead is known: their own sources were not tested."""
        return [at for at in group if at not in self.picture.lead_at]

    def _order(self, name: str) -> tuple[int, str]:
        at = self.tested.index(name) if name in self.tested else len(self.tested)
        return at, name


def _sensor(looks: Sequence[Look], name: str, turned: bool) -> _Bits:
    value = known = 0
    for at, look in enumerate(looks):
        made = look.levels.get(name)
        if made is not None:
            known |= 1 << at
            value |= (made is not turned) << at
    return _Bits(value, known)
