"""A layout proven: switch by switch, two at a time, with a tape for whatever is false."""

from __future__ import annotations

from collections.abc import Iterator
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass, replace
from itertools import islice
from math import prod
from multiprocessing import get_context

from firmware_py.layout.model import Layout
from firmware_py.proof.explore import Explored, explore, open_up
from firmware_py.proof.findings import Finding
from firmware_py.proof.following import jobs_end_well, steps_raise_nothing
from firmware_py.proof.fragments import fragments, likeness
from firmware_py.proof.judging import Judge
from firmware_py.proof.outset import guesses
from firmware_py.proof.recovery import recovery
from firmware_py.proof.search import Search, by_the_book
from firmware_py.proof.showing import Showing, TapeRow
from firmware_py.proof.splitting import differences
from firmware_py.proof.way import WayBack

TRIES = 40
"""Ways that are tried on the core before a finding is left without a tape."""

WORKERS = 2


@dataclass(frozen=True, slots=True)
class Refuted:
    """Something false, and the shortest tape that shows it; empty where none was found."""

    number: int
    what: str
    tape: tuple[TapeRow, ...] = ()


@dataclass(frozen=True, slots=True)
class Proof:
    """What came of proving one switch with its spurs.

    ``states`` is how many were looked at, part by part; ``stands_for`` how many states of the
    whole these are, each with each. ``like`` names the switch that was proven in its place.
    ``way`` is the longest way back, of ``longest_way`` moves, as it was played.
    """

    switch: str
    states: int
    stands_for: int
    looked_at: int
    longest_way: int
    refuted: tuple[Refuted, ...] = ()
    like: str | None = None
    way: WayBack | None = None


def prove(
    layout: Layout, *, workers: int = WORKERS, alike: bool = True, tapes: bool = True
) -> list[Proof]:
    """Prove a layout whole; one ``Proof`` for each switch, in file order."""
    return list(proofs(layout, workers=workers, alike=alike, tapes=tapes))


def proofs(
    layout: Layout, *, workers: int = WORKERS, alike: bool = True, tapes: bool = True
) -> Iterator[Proof]:
    """Prove a layout switch by switch, each given as it is ready."""
    pieces = fragments(layout)
    first: dict[str, Layout] = {}
    for piece in pieces:
        first.setdefault(likeness(piece) if alike else piece.switches[0].id, piece)
    jobs = [(piece, tapes) for piece in first.values()]
    if workers == 1 or len(jobs) == 1:
        done = dict(zip(first, map(_prove_job, jobs), strict=True))
    else:
        with ProcessPoolExecutor(workers, mp_context=get_context("spawn")) as pool:
            done = dict(zip(first, pool.map(_prove_job, jobs), strict=True))
    for piece in pieces:
        ident = piece.switches[0].id
        proof = done[likeness(piece) if alike else ident]
        if proof.switch == ident:
            yield proof
        elif proof.refuted:
            yield prove_fragment(piece, tapes=tapes)  # Its own names are wanted on its tapes.
        else:
            yield replace(proof, switch=ident, like=proof.switch, way=None)


def _prove_job(job: tuple[Layout, bool]) -> Proof:
    return prove_fragment(job[0], tapes=job[1])


def prove_fragment(layout: Layout, *, tapes: bool = True) -> Proof:
    """Prove one switch with its spurs."""
    judge = Judge(open_up(layout))
    explored = explore(judge.watch.layout, judge)
    found, judge.findings = judge.findings, []
    [stand] = judge.watch.stands
    shown, stand.fitted = stand.fitted, []  # What is shown has no say in what follows.
    refuted = list(_other_properties(explored))
    back = recovery(explored, stand)
    stand.fitted = shown
    refuted += [Refuted(4, what, back.tape) for what in back.stuck]
    for finding in found:
        refuted.append(
            Refuted(finding.number, finding.what, _tape(explored, judge, finding, tapes))
        )
    parts = [part for part in judge.watch.memory.parts if not part.name.endswith(" step")]
    sizes = [len(part.states) for part in parts]
    refuted.sort(key=lambda it: it.number)
    switch = layout.switches[0].id
    return Proof(
        switch,
        sum(sizes),
        prod(sizes),
        explored.looked_at,
        back.moves,
        tuple(refuted),
        way=back.way,
    )


def _other_properties(explored: Explored) -> Iterator[Refuted]:
    watch, layout = explored.watch, explored.watch.layout
    stand = watch.stands[0]
    for spur, step, rule in steps_raise_nothing(watch, stand):
        yield Refuted(3, f"the step {step} of {spur.id} raises {rule} by itself")
    for ident, wrong, rows in jobs_end_well(layout):
        yield Refuted(3, f"a job on {ident} done by the book: {wrong}", tuple(rows))
        break
    for standing in guesses(watch, stand):
        outset: list[TapeRow] = [{"t": 0, "contact": n, "made": made} for n, made in standing]
        what = f"{stand.switch.id} begins secured though its points are not known to be normal"
        yield Refuted(1, what, (*outset, {"t": 1, "end": True}))
        break
    for what, tape in differences(watch, stand):
        yield Refuted(7, what, tape)


def _tape(explored: Explored, judge: Judge, finding: Finding, wanted: bool) -> tuple[TapeRow, ...]:
    if not wanted:
        return ()
    book = by_the_book(explored)
    for search in (Search(explored, judge), Search(explored, judge, book=book)):
        for way in islice(search.ways_to(finding), TRIES):
            showing = Showing(explored.watch.layout, way)
            if showing.play(way):
                if finding.hidden:
                    showing.go_on()
                return tuple(showing.finish())
    return ()
