"""What to ask next, from what was seen so far and what the builder's hands hold now."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Iterator
from dataclasses import dataclass, field
from itertools import combinations

from firmware_py.commissioning.evidence import bursts_of, seen
from firmware_py.commissioning.model import Burst, Evidence, Step
from firmware_py.commissioning.solving import Picture, solve
from firmware_py.commissioning.wires import Wires

NOISE_EDGES = 2
"""An untouched contact that changes so often while it is listened to has a noisy lead."""

NOISY_MOVES = 6
"""A noisy contact is moved so often, since noise must not pass for bounce in all of them."""

MOST_MOVES = 12
"""More than this a builder is not asked to move one contact."""

SMALL = 4
"""Of so many sources in doubt, every combination is tried; of more, pairs and all but one."""

Next = tuple[Step, str | None]


@dataclass(slots=True)
class Planner:
    """Plans over the evidence, which others change. ``given_up`` are contacts not to ask again."""

    wires: Wires
    evidence: Evidence
    given_up: set[str] = field(default_factory=set)

    def next(self, hands: Collection[str], levels: dict[str, bool]) -> Next:
        """The next thing to ask; ``hands`` are the contacts made now, ``levels`` what is seen."""
        if self._unheard(levels):
            return Step.LISTEN, None
        for found in (self._untried(hands), self._doubtful(hands), self._restless(hands)):
            if found is not None:
                return found
        return self._toward(hands, ()) or (Step.FINISHED, None)

    def contacts(self) -> Picture:
        """How the contacts' wires run, by what was seen so far."""
        inverted = {name: wire.inverted for name, wire in self.wires.contacts.items()}
        tested = [name for name in inverted if name in self.evidence.tested]
        return solve(self.evidence.looks, tested, inverted)

    def outputs(self) -> Picture:
        """How the outputs' wires run: a source drives, and a sensor is what the builder sees."""
        tested = [name for name in self.wires.outputs if name in self.evidence.tested]
        return solve(self.evidence.lights, tested, dict.fromkeys(self.wires.outputs, False))

    def noisy(self) -> list[str]:
        """The contacts at whose pins noise was heard."""
        heard = self.evidence.heard
        return [name for name in self.wires.contacts if heard.get(name, 0) >= NOISE_EDGES]

    def _unheard(self, levels: dict[str, bool]) -> bool:
        wires = self.wires.contacts
        return any(
            made is wires[name].inverted and name not in self.evidence.heard
            for name, made in levels.items()
        )

    def _untried(self, hands: Collection[str]) -> Next | None:
        """The first wire that is neither tested nor skipped, stand by stand."""
        over = {*self.evidence.tested, *self.evidence.skipped}
        for stand in self.wires.stands:
            for name in self.wires.at(stand):
                if name in over:
                    continue
                if name in self.wires.outputs:
                    return self._toward(hands, ()) or self._look(name)
                target = () if seen(self.evidence.looks, [name]) else (name,)
                return self._toward(hands, target)
        return None

    def _look(self, name: str) -> Next:
        if not seen(self.evidence.lights, ()):
            return Step.DARK, None
        return Step.LOOK, name

    def _toward(self, hands: Collection[str], target: Collection[str]) -> Next | None:
        """One move that brings the hands nearer to ``target``; ``None`` if they are there."""
        for name in self.wires.contacts:
            if name in hands and name not in target:
                return Step.BREAK, name
        for name in self.wires.contacts:
            if name in target and name not in hands:
                return Step.MAKE, name
        return None

    def _doubtful(self, hands: Collection[str]) -> Next | None:
        """A combination that lifts the veil from what a closed circuit may hide."""
        picture = self.contacts()
        if len(picture.veiled) < 2:
            return None
        shown = [name for name, at in picture.seen_at.items() if {*at} & {*picture.veiled}]
        doubtful = [
            name
            for name in self.wires.contacts
            if name in {*picture.unseen, *shown} and name not in self.given_up
        ]
        for target in _combinations(doubtful):
            together = any(self.wires.apart.get(name) in target for name in target)
            if not together and not seen(self.evidence.looks, target):
                return self._toward(hands, target)
        return None

    def _restless(self, hands: Collection[str]) -> Next | None:
        """A contact to be moved more often, for its bounce to be measured.

        That is one that nobody has seen move yet since something joined to it rests closed, or
        one with a noisy lead: noise must not pass for bounce in every move.
        """
        noisy, picture = {*self.noisy()}, self.contacts()
        for name, at in picture.seen_at.items():
            wanted = NOISY_MOVES if noisy & {*at} else 1
            if len(self._bursts(name, at)) >= wanted:
                continue
            if self.evidence.moves.get(name, 0) >= MOST_MOVES or name in self.given_up:
                continue
            behind = {
                one
                for one, where in picture.seen_at.items()
                if where is at and one != name and self._rests_closed(one, picture)
            }
            whole = {*behind, name}
            if not any(self.wires.apart.get(one) in whole for one in whole):
                return self._toward(hands, behind if name in hands else whole)
        return None

    def _bursts(self, name: str, at: Collection[str]) -> list[Burst]:
        """The moves of a source as one of the sensors that show it took them."""
        first = next(iter(at))
        return bursts_of(self.evidence, name, [first])

    def _rests_closed(self, name: str, picture: Picture) -> bool:
        return self.wires.contacts[name].inverted is not (name in picture.inverted)


def _combinations(names: list[str]) -> Iterator[tuple[str, ...]]:
    sizes: Iterable[int] = range(2, len(names) + 1)
    if len(names) > SMALL:
        sizes = (2, len(names) - 1, len(names))
    for size in sizes:
        yield from combinations(names, size)
