"""One move, made from a set of states in every way in which it can go."""

from __future__ import annotations

from collections.abc import Callable, Iterator

from firmware_py.core.stand import Stand
from firmware_py.proof.cells import Part, State
from firmware_py.proof.judging import Judge
from firmware_py.proof.memory import Step
from firmware_py.proof.moves import STIRRED, Move, reset
from firmware_py.proof.watch import OWN_CONTACTS, Report, Watch


def is_own(watch: Watch, stand: Stand, move: Move) -> bool:
    """Whether a move is one of the switch by itself: a contact that it reads, or its deadline."""
    own = [getattr(stand.switch, role) for role in OWN_CONTACTS]
    names = {contact.name for contact in own if contact is not None}
    if move.on in names:
        return move.act not in ("chatters", "quiet")
    return move.act == STIRRED or (move.act == "due" and move.timer in stand.switch.timers)


def step_from(
    watch: Watch, move: Move, outset: dict[Part, int], judge: Judge | None
) -> Iterator[None]:
    """Make a move of a switch's own up to where its stand concludes it; see ``watch.told``."""

    def go() -> None:
        reset(watch, move.stand)
        watch.reports = []
        try:
            move.go(watch)
        finally:
            ended, watch.reports = watch.reports, None
        watch.told = ended[0] if ended else None
        if judge is not None and len(ended) != (move.act != STIRRED):
            judge.ignored(move)
        if judge is not None and ended:
            judge.at_switch(move)

    yield from watch.memory.runs(outset, go)


def run_all(
    watch: Watch, move: Move, outset: dict[Part, int], judge: Judge | None = None
) -> Iterator[None]:
    """Make a move from every state of an outset; yields after each way in which it can go."""

    def go() -> None:
        reset(watch, move.stand)
        move.go(watch)
        if judge is not None:
            judge.at_stand(move)

    yield from _run(watch, outset, go)


def conclude_all(  # noqa: PLR0913, PLR0917 - what was done, and who looks at what follows
    watch: Watch,
    stand: Stand,
    report: Report,
    step: Step,
    outset: dict[Part, int],
    judge: Judge | None,
) -> Iterator[None]:
    """Have a stand conclude a step of its switch in every way in which that can go."""

    def go() -> None:
        reset(watch, stand.number)
        event = watch.core._event
        event.quiet = report.quiet
        event.breaches = list(report.breaches)
        stand.switch.turn = report.turn
        stand.conclude(anew=report.anew)
        if event.found:
            event.close()
        if judge is not None:
            judge.at_stand(report)

    watch.memory.step = step
    try:
        yield from _run(watch, outset, go)
    finally:
        watch.memory.step = None


def _run(watch: Watch, outset: dict[Part, int], go: Callable[[], None]) -> Iterator[None]:
    found: list[tuple[Part, State]] = []
    for _ in watch.memory.runs(outset, go):
        found += [(part, after) for part, _, after in watch.memory.reached()]
        yield
    for part, after in found:
        part.add(after)
