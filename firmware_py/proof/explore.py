"""From where a session can begin to every state that is reached.

A switch does not depend on its spurs: they, and all that is shown at the stand, are told what it
did as the stand concludes the event. So what it can do is found first, each step of it is kept
with what is told of it, and its stand then concludes each of them in every way it can.
"""

from __future__ import annotations

from dataclasses import dataclass, field, replace

from firmware_py.core.spur import Spur
from firmware_py.core.stand import Stand
from firmware_py.layout.model import Layout
from firmware_py.proof.cells import Part, State, bits
from firmware_py.proof.judging import Judge
from firmware_py.proof.memory import Step
from firmware_py.proof.moves import Move, moves_at
from firmware_py.proof.outset import begin_all
from firmware_py.proof.runs import conclude_all, is_own, run_all, step_from
from firmware_py.proof.watch import Probe, Report, Watch
from firmware_py.proof.watched import watched


@dataclass(slots=True)
class Steps:
    """What a switch can do: for each report, the states before and after, and the move."""

    step: Step
    found: dict[Report, dict[State, Move]] = field(default_factory=dict)
    seen: int = 0


@dataclass(slots=True)
class Explored:
    """A watched core with every state found; ``looked_at`` counts runs."""

    watch: Watch
    steps: dict[int, Steps] = field(default_factory=dict)
    looked_at: int = 0


def open_up(layout: Layout) -> Watch:
    """A watched core of a layout, with every part where it can begin.

    A speed trap raises a violation that belongs to no stand, and nothing of a stand depends on
    it, so traps are left out.
    """
    watch = watched(replace(layout, traps=()))
    begin_all(watch)
    return watch


def explore(layout: Layout, judge: Judge | None = None) -> Explored:
    """Find every state of a layout, and have a judge look at every move from each of them.

    The first search leaves out what hardly leads to new states (chatter, hooks, what is shown);
    it only saves time. What is found counts once a move of any kind leads nowhere else.
    """
    watch = open_up(layout) if judge is None else judge.watch
    explored = Explored(watch)
    for stand in watch.stands:
        shown, stand.fitted = stand.fitted, []
        explored.steps[stand.number] = Steps(_step_of(watch, stand))
        grown = True
        while grown:
            before = _size(explored)
            _explore_switch(explored, stand)
            _explore_spurs(explored, stand)
            grown = _size(explored) > before
        grown = True
        while grown:
            before = _size(explored)
            if judge is not None:
                judge.learn(stand, shown)
                watch.probe = Probe(watch.memory)
                stand.fitted = [watch.probe]  # type: ignore[list-item] # It looks and shows.
            _explore_switch(explored, stand, judge)
            _rounds(explored, stand, {}, judge)
            grown = _size(explored) > before
        stand.fitted = shown
        if judge is not None:
            watch.probe = None
            judge.stand = stand.number
            explored.looked_at += sum(1 for _ in judge.standing(stand))
    return explored


def _kept_still(watch: Watch, stand: Stand) -> dict[Part, int]:
    """Parts that the first search leaves as they are, each at one state."""
    cells = [*watch.chattering.values(), *watch.testing.values(), watch.open[stand.number]]
    cells.append(watch.pending[stand._buzz])
    cells += [watch.settled[key.hook.name] for key in watch.layout.keys]
    cells += [watch.settled[spur.fouling.name] for spur in stand.spurs if spur.fouling]
    return {cell.part: 1 for cell in cells}


def _step_of(watch: Watch, stand: Stand) -> Step:
    main = watch.of_switch[stand.switch.id]["points"].part
    carried = [cell for cell in main.cells if cell in watch.settled.values()]
    carried += [watch.of_switch[stand.switch.id][name] for name in ("points", "stage")]
    return Step(watch.memory, main, carried)


def _explore_spurs(explored: Explored, stand: Stand) -> None:
    """What is new of each spur, with anything in the others, until nothing is."""
    still = _kept_still(explored.watch, stand)
    parts = [explored.watch.of_spur[spur.id]["phase"].part for spur in stand.spurs]
    seen = dict.fromkeys(parts, 0)
    while any(len(part.states) > seen[part] for part in parts):
        for part in parts:
            new, seen[part] = part.full & ~((1 << seen[part]) - 1), len(part.states)
            if new:
                _rounds(explored, stand, still | {part: new}, None)


def _size(explored: Explored) -> int:
    parts = sum(len(part.states) for part in explored.watch.memory.parts)
    return parts + sum(len(found) for s in explored.steps.values() for found in s.found.values())


def _explore_switch(explored: Explored, stand: Stand, judge: Judge | None = None) -> None:
    """Every state of a switch by itself, and every step from one to another."""
    watch, steps = explored.watch, explored.steps[stand.number]
    main = steps.step.of
    moves = [move for move in moves_at(watch, stand) if is_own(watch, stand, move)]
    seen = 0 if judge else steps.seen
    while len(main.states) > seen:
        new, seen = main.full & ~((1 << seen) - 1), len(main.states)
        for move in moves:
            explored.looked_at += _step_from(explored, steps, move, new, judge)
    steps.seen = seen


def _step_from(explored: Explored, steps: Steps, move: Move, new: int, judge: Judge | None) -> int:
    watch, main = explored.watch, steps.step.of
    runs = 0
    fresh: list[State] = []
    for _ in step_from(watch, move, {main: new}, judge):
        runs += 1
        found = steps.found.setdefault(watch.told, {}) if watch.told else {}
        changes = [(c.index, v) for c, v in watch.memory.written.items() if c.part is main]
        for number in bits(watch.memory.domain[main.place]):
            before = main.states[number]
            after = list(before)
            for index, value in changes:
                after[index] = value
            found.setdefault(steps.step.state(before, tuple(after)), move)
            fresh.append(tuple(after))
    for state in fresh:
        main.add(state, move)
    return runs


def _rounds(explored: Explored, stand: Stand, outset: dict[Part, int], judge: Judge | None) -> None:
    """Every move, for each spur of the stand by itself: no spur reads another."""
    spurs = stand.spurs
    for spur in spurs or (None,):
        stand.spurs = (spur,) if spur is not None else ()
        others = [other for other in spurs if other is not spur]
        _round(explored, stand, outset, judge, others)
    stand.spurs = spurs


def _round(
    explored: Explored,
    stand: Stand,
    outset: dict[Part, int],
    judge: Judge | None,
    others: list[Spur],
) -> None:
    watch = explored.watch
    theirs = {spur.id for spur in others}
    theirs |= {step for spur in others for item in spur.opening for step in (item.step,)}
    theirs -= {stand.switch.id}
    for move in moves_at(watch, stand):
        if is_own(watch, stand, move) or move.on.partition(".")[0].partition(" ")[0] in theirs:
            continue
        for _ in run_all(watch, move, outset, judge):
            explored.looked_at += 1
    steps = explored.steps[stand.number]
    for report, found in steps.found.items():
        here = outset | {steps.step.part: steps.step.look_at(found)}
        for _ in conclude_all(watch, stand, report, steps.step, here, judge):
            explored.looked_at += 1
