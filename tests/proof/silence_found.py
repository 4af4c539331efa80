"""What the core raises, situation by situation, put beside what the solver says must be raised.

The explored core makes every move from every state; a run stands for a set of situations, and
what it raised is held against the encoding in both directions, for all of the set at once.
"""

from __future__ import annotations

import copy
from collections.abc import Callable, Hashable, Iterator
from dataclasses import dataclass, field
from functools import reduce

import z3

from firmware_py.core.agenda import Due
from firmware_py.core.stand import Stand
from firmware_py.layout.reading import parse_layout
from firmware_py.proof.cells import Cell, bits
from firmware_py.proof.explore import explore
from firmware_py.proof.moves import STIRRED, Move, moves_at, reset
from firmware_py.proof.watch import ONE, Watch
from tests.proof.encoded_silence import (
    CONTACTS,
    OTHER,
    RULES,
    STAGES,
    THROW,
    Situation,
    at_fault,
    dangers,
    may_be,
    must_raise,
    must_run,
    situation,
)

WHERE = {
    "hasp": "sallow-switch.hasp",
    "normal": "sallow-switch.normal",
    "reverse": "sallow-switch.reverse",
    "detector": "sallow-switch.detector",
    "flag": "sallow-flag.rack",
    "spur": "sallow.detector",
}
OWN = CONTACTS[:4]
AS_NUMBER: dict[Hashable, int] = {False: 0, True: 1, None: 2}

Told = tuple[frozenset[str], bool]
"""Which of the rules were raised and stand, and whether the throw time runs afterwards."""


@dataclass(frozen=True, slots=True)
class Box:
    """Situations: one event, with each of these values of flag, spur and chatter."""

    event: int
    value: int
    flag: frozenset[int]
    spur: frozenset[int]
    chatters: frozenset[bool]
    told: Told


@dataclass(slots=True)
class Found:
    """The situations that the core was in: for each box, those of the switch."""

    boxes: dict[Box, set[tuple[int, ...]]] = field(default_factory=dict)


def found_in(text: str) -> Found:
    """Everything that can happen on an explored core of the layout ``text``, that of ``WHERE``."""
    watch = explore(parse_layout(text, "encoded.toml")).watch
    [stand] = watch.stands
    stand.fitted = []  # What is shown raises nothing.
    found = Found()
    for move in moves_at(watch, stand):
        if move.act != STIRRED:
            _look(watch, stand, move, found)
    return found


def _look(watch: Watch, stand: Stand, move: Move, found: Found) -> None:
    memory, told = watch.memory, list[Told]()
    runs = next(t for t in stand.switch.timers if t.name[0] is Due.GAPPED)

    def go() -> None:
        reset(watch, move.stand)
        move.go(watch)
        raised = {str(rule) for rule, *_ in watch.raised} & set(RULES)
        stands = not raised or memory.read(watch.open[stand.number]) == ONE
        pending = memory.read(watch.pending[runs])
        told[:] = [(frozenset(raised if stands else ()), pending is True)]

    settled = watch.settled
    cells = [settled[WHERE[name]] for name in OWN]
    cells += [watch.of_switch[stand.switch.id]["stage"], watch.pending[runs]]
    event, value, name = _event_of(move, runs)
    for _ in memory.runs({}, go):
        chatters = frozenset((False, True))
        if event < len(CONTACTS):
            chatters = frozenset(map(bool, _values(watch, watch.chattering[name])))
        flag, spur = (
            frozenset(AS_NUMBER[it] for it in _values(watch, settled[WHERE[place]]))
            for place in ("flag", "spur")
        )
        here = found.boxes.setdefault(Box(event, value, flag, spur, chatters, told[0]), set())
        here |= set(_states(watch, cells))


def _event_of(move: Move, runs: object) -> tuple[int, int, str]:
    if move.timer is runs:
        return THROW, 0, ""
    for place, name in enumerate(CONTACTS):
        if move.on == WHERE[name] and (move.value is not None or move.act == "lost"):
            return place, AS_NUMBER[move.value], WHERE[name]
    return OTHER, 0, ""


def _values(watch: Watch, cell: Cell) -> set[Hashable]:
    domain = watch.memory.domain[cell.part.place]
    return {value for value, mask in cell.masks.items() if mask & domain}


def _states(watch: Watch, cells: list[Cell]) -> Iterator[tuple[int, ...]]:
    part = cells[0].part
    for number in bits(watch.memory.domain[part.place]):
        *contacts, stage, runs = (part.states[number][cell.index] for cell in cells)
        yield (*(AS_NUMBER[it] for it in contacts), STAGES.index(str(stage)), int(runs is True))


# Beside the encoding.


class Beside:
    """The core's situations for the solver."""

    def __init__(self, found: Found) -> None:
        self.s = situation()
        self.must = must_raise(self.s)
        self.runs = must_run(self.s)
        self._packed = z3.Concat(
            *(self.s.before[name] for name in OWN),
            self.s.stage,
            z3.If(self.s.runs, z3.BitVecVal(1, 1), z3.BitVecVal(0, 1)),
        )
        self.boxes = [(box.told, self._within(box, st)) for box, st in found.boxes.items()]

    def without(self, rule: str) -> Beside:
        """The situations of a core that never raised ``rule``."""
        other = copy.copy(self)
        other.boxes = [((told[0] - {rule}, told[1]), within) for told, within in self.boxes]
        return other

    def _within(self, box: Box, states: set[tuple[int, ...]]) -> z3.BoolRef:
        s = self.s
        here = [s.event == box.event, s.value == box.value]
        here.append(z3.Or(*[self._packed == _pack(state) for state in sorted(states)]))
        for name, values in (("flag", box.flag), ("spur", box.spur)):
            here.append(z3.Or(*[s.before[name] == value for value in sorted(values)]))
        if box.event < len(CONTACTS):
            chatters = s.chatters[CONTACTS[box.event]]
            here.append(z3.Or(*[chatters == value for value in sorted(box.chatters)]))
        return z3.And(*here)

    def differences(self) -> Iterator[str]:
        """What must be raised and is not, is raised and must not be, or was never met."""
        for rule in RULES:
            yield from self._where(
                f"silent: {rule}", self.must[rule], lambda t, r=rule: r not in t[0]
            )
            cause = z3.Not(self.must[rule])
            yield from self._where(f"without cause: {rule}", cause, lambda t, r=rule: r in t[0])
        yield from self._where("the throw time is not begun", self.runs, lambda t: not t[1])
        yield from self._where("the throw time runs on", z3.Not(self.runs), lambda t: t[1])
        for danger in dangers(self.s):
            unseen = z3.And(danger.comes, z3.Not(at_fault(self.s, danger.contacts)))
            yield from self._where(f"silent: {danger.name}", unseen, lambda t: not t[0])
        met = z3.Or(*[within for _, within in self.boxes])
        yield from self._if_any("never met by the core", [may_be(self.s), z3.Not(met)])
        more = z3.And(self.s.event != OTHER, z3.Not(may_be(self.s)))
        yield from self._if_any("never met by the encoding", [more, met])

    def _where(self, what: str, wanted: z3.BoolRef, is_so: Callable[[Told], bool]) -> Iterator[str]:
        within = [within for told, within in self.boxes if is_so(told)]
        yield from self._if_any(what, [wanted, z3.Or(*within)])

    def _if_any(self, what: str, asserted: list[z3.BoolRef]) -> Iterator[str]:
        solver = z3.Solver()
        solver.add(*asserted)
        if solver.check() == z3.sat:
            yield f"{what}: {_words(self.s, solver.model())}"


def _pack(state: tuple[int, ...]) -> int:
    *contacts, stage, runs = state
    number = reduce(lambda sum_, it: sum_ * 4 + it, contacts)
    return (number * 8 + stage) * 2 + runs


def _words(s: Situation, model: z3.ModelRef) -> str:
    def number(it: z3.BitVecRef) -> int:
        value: int = model.eval(it, model_completion=True).as_long()
        return value

    names = ("open", "made", "unknown", "?")
    stood = ", ".join(f"{name} {names[number(it)]}" for name, it in s.before.items())
    event, value = number(s.event), names[number(s.value)]
    other = "the throw time passed" if event == THROW else "something else"
    what = f"{CONTACTS[event]} {value}" if event < len(CONTACTS) else other
    return f"{what} after {stood}, {STAGES[number(s.stage)]}"
