"""For something false: the shortest way to it from a session's beginning, state by state.

Here every part stands at one state, so what is walked is one evening and no set of them; each
event is judged as in the proof. The fewest lines on a tape come first.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, field
from heapq import heappop, heappush
from itertools import count

from firmware_py.core.core import Core
from firmware_py.core.stand import Stand
from firmware_py.layout.model import MADE_AT_REST
from firmware_py.proof.cells import Part, State
from firmware_py.proof.explore import Explored
from firmware_py.proof.findings import Finding
from firmware_py.proof.following import work
from firmware_py.proof.judging import Judge
from firmware_py.proof.moves import STIRRED, Move, moves_at
from firmware_py.proof.outset import read_off
from firmware_py.proof.places import Evening
from firmware_py.proof.runs import conclude_all, is_own, run_all, step_from

LINES = {"chatters": 21, "due": 0, "quiet": 0, STIRRED: 0}
"""How many lines on a tape a move takes; any other takes one."""

Where = tuple[State, ...]
"""The state of every part, in their order."""

MET: Where = (("met",),)
"""In place of where a way leads: it leads to what is looked for."""


@dataclass(frozen=True, slots=True)
class Way:
    """How a session begins, as what stands otherwise than at rest, and what happens then."""

    standing: tuple[tuple[str, bool | None], ...] = ()
    moves: tuple[Move, ...] = ()

    @property
    def lines(self) -> int:
        """How many lines it takes on a tape."""
        return len(self.standing) + sum(LINES.get(move.act, 1) for move in self.moves)


Heap = list[tuple[int, int, Way, Where]]


def by_the_book(explored: Explored) -> Way:
    """A job on the first spur, for as far as this core lets it go by the book.

    With the keys taken beforehand: a hook is only asked how it stands.
    """
    watch, layout = explored.watch, explored.watch.layout
    taken = tuple((key.hook.name, False) for key in layout.keys)
    if not layout.spurs:
        return Way(taken)
    evening = Evening(layout, dict(taken))
    begun = len(evening.rows)
    work(evening, layout.spurs[0], leave=False)
    moves = list(moves_at(watch, watch.stands[0]))
    contacts = {(move.on, move.value): move for move in moves if move.value is not None}
    orders = {(move.on, move.act): move for move in moves}
    job = tuple(
        contacts[str(row["contact"]), row["made"] is True]
        if "contact" in row
        else orders[str(row["spur"]), str(row["command"])]
        for row in evening.rows[begun:]
    )
    return Way(taken, job)


@dataclass(slots=True)
class Search:
    """Looks for ways to what a judge found, at most ``patience`` states deep."""

    explored: Explored
    judge: Judge
    patience: int = 3000
    book: Way | None = None
    """A job by the book: ways may begin with it, or with the beginning of it, at no cost."""
    _number: Iterator[int] = field(default_factory=count)

    def ways_to(self, finding: Finding) -> Iterator[Way]:
        """Ways after whose last move the finding is met, the shortest first."""
        watch = self.explored.watch
        stand = watch.stands[finding.stand]
        moves = self._moves(stand, finding)
        heap: Heap = []
        if self.book is not None:
            self._push_book(heap, self.book, stand, finding)
        else:
            self._push(heap, Way(), self._outset(stand, ()))
        seen: set[Where] = set()
        while heap and len(seen) < self.patience:
            cost, _, way, where = heappop(heap)
            if where is MET:
                yield way
                continue
            if not way.moves and self.book is None:
                self._push_outsets(heap, stand, way, finding)
            if where in seen:
                continue
            seen.add(where)
            for move in moves:
                longer = Way(way.standing, (*way.moves, move))
                for after, met in self._make(stand, where, move, finding):
                    if met:
                        self._push(heap, longer, MET, cost + 1)
                    elif after not in seen:
                        self._push(heap, longer, after, cost + 1)

    def _push(self, heap: Heap, way: Way, where: Where, cost: int = 0) -> None:
        if self.book is None:
            cost = way.lines * 16 + len(way.moves)
        heappush(heap, (cost, next(self._number), way, where))

    def _push_book(self, heap: Heap, book: Way, stand: Stand, finding: Finding) -> None:
        way, where = Way(book.standing), self._outset(stand, book.standing)
        self._push(heap, way, where)
        for move in book.moves:
            way = Way(way.standing, (*way.moves, move))
            ends = list(self._make(stand, where, move, finding))
            if not ends:
                break
            where, met = ends[0]
            self._push(heap, way, MET if met else where)

    def _push_outsets(self, heap: Heap, stand: Stand, way: Way, finding: Finding) -> None:
        last = way.standing[-1][0] if way.standing else ""
        for name in self._names(stand, finding):
            if name > last:
                for made in (True, False, None):
                    if made is not _at_rest(name):
                        standing = (*way.standing, (name, made))
                        self._push(heap, Way(standing), self._outset(stand, standing))

    def _names(self, stand: Stand, finding: Finding) -> list[str]:
        """The contacts that have a say in it: those that the judge saw, and the switch's."""
        mine = {name for name, _ in finding.stood} | {finding.on}
        mine |= {n for n, c in self.explored.watch.contacts.items() if c.home is stand.switch}
        return sorted(mine & self.explored.watch.contacts.keys())

    def _moves(self, stand: Stand, finding: Finding) -> list[Move]:
        names, contacts = self._names(stand, finding), self.explored.watch.contacts
        return [
            move
            for move in moves_at(self.explored.watch, stand)
            if move.act != STIRRED and (move.on not in contacts or move.on in names)
        ]

    def _outset(self, stand: Stand, standing: tuple[tuple[str, bool | None], ...]) -> Where:
        watch = self.explored.watch
        found = read_off(watch, Core(watch.layout, dict(standing)), stand.number)
        return tuple(
            tuple(found[cell] for cell in part.cells)
            if all(cell in found for cell in part.cells)
            else part.states[0]
            for part in self._parts()
        )

    def _parts(self) -> list[Part]:
        steps = {steps.step.part for steps in self.explored.steps.values()}
        return [part for part in self.explored.watch.memory.parts if part not in steps]

    def _make(
        self, stand: Stand, where: Where, move: Move, finding: Finding
    ) -> Iterator[tuple[Where, bool]]:
        """Every way in which a move can go: where it leads, and whether it meets the finding."""
        watch, parts, judge = self.explored.watch, self._parts(), self.judge
        for part, state in zip(parts, where, strict=True):
            part.add(state)
        outset = {p: 1 << p.at[s] for p, s in zip(parts, where, strict=True)}
        judge.findings = []
        ends: list[tuple[Where, bool]] = []
        if not is_own(watch, stand, move):
            for _ in run_all(watch, move, outset, judge):
                ends.append((self._after(parts, where), judge.has(finding)))
        else:
            ends = self._make_own(stand, where, move, finding)
        if judge.has(finding):  # In a run that did not end.
            ends.append((where, True))
        yield from ends

    def _make_own(
        self, stand: Stand, where: Where, move: Move, finding: Finding
    ) -> list[tuple[Where, bool]]:
        watch, parts, judge = self.explored.watch, self._parts(), self.judge
        outset = {p: 1 << p.at[s] for p, s in zip(parts, where, strict=True)}
        step = self.explored.steps[stand.number].step
        ends: list[tuple[Where, bool]] = []
        halves = [
            (self._after(parts, where), watch.told, judge.has(finding))
            for _ in step_from(watch, move, outset, judge)
        ]
        for half, report, met in halves:
            if report is None:  # The core took no notice.
                ends.append((self._after(parts, where), met))
                continue
            main = parts.index(step.of)
            here = outset | {step.part: step.look_at([step.state(where[main], half[main])])}
            for _ in conclude_all(watch, stand, report, step, here, judge):
                ends.append((self._after(parts, half), met or judge.has(finding)))
        return ends

    def _after(self, parts: list[Part], where: Where) -> Where:
        """Where the run that has just been made leads."""
        written = self.explored.watch.memory.written
        if not written:
            return where
        after = [list(state) for state in where]
        places = {part: place for place, part in enumerate(parts)}
        for cell, value in written.items():
            after[places[cell.part]][cell.index] = value
        return tuple(tuple(state) for state in after)


def _at_rest(name: str) -> bool:
    return name.rpartition(".")[2] in MADE_AT_REST
