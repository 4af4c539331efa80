"""One layout proven: stand by stand, with a tape for whatever is false."""

from __future__ import annotations

from dataclasses import dataclass, field
from math import prod

from firmware_py.layout.model import Layout
from firmware_py.proof.explore import Explored, explore, open_up
from firmware_py.proof.judging import Finding, Judge
from firmware_py.proof.search import Search
from firmware_py.proof.showing import Showing, TapeRow

TRIES = 40
"""Ways that are tried on the core before a finding is left without a tape."""


@dataclass(frozen=True, slots=True)
class False_:  # noqa: N801 - the word is Python's
    """Something false, and the shortest tape that shows it; empty where none was found."""

    finding: Finding
    tape: tuple[TapeRow, ...] = ()


@dataclass(slots=True)
class Proof:
    """What came of a proof: states (of switches, of spurs, and all told) and what is false."""

    layout: Layout
    states: int
    stands_for: int
    looked_at: int
    false: list[False_] = field(default_factory=list)


def prove(layout: Layout, *, tapes: bool = True) -> Proof:
    """Prove a layout whole."""
    judge = Judge(open_up(layout))
    explored = explore(judge.watch.layout, judge)
    parts = [part for part in judge.watch.memory.parts if not part.name.endswith(" step")]
    proof = Proof(
        layout,
        sum(len(part.states) for part in parts),
        prod(len(part.states) for part in parts),
        explored.looked_at,
    )
    findings, judge.findings = judge.findings, []
    for finding in findings:
        tape = _tape_for(explored, judge, finding) if tapes else ()
        proof.false.append(False_(finding, tape))
    return proof


def _tape_for(explored: Explored, judge: Judge, finding: Finding) -> tuple[TapeRow, ...]:
    layout = explored.watch.layout
    for tried, way in enumerate(Search(explored, judge).ways_to(finding)):
        if tried >= TRIES:
            break
        showing = Showing(layout, way)
        if showing.play(way):
            return tuple(showing.finish())
    return ()
