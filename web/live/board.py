"""The board's state, folded from a session's outset and its entries. Pure: no I/O, no clock.

A line is a parsed JSON line of the logbook (the keys are those that a replay prints). Folding
the same lines always gives the same board, whether all at once or one at a time.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any

Line = Mapping[str, Any]


@dataclass(slots=True)
class Round:
    """One time that a spur was opened, until it was at rest again.

    The ids are those of the entries that began and ended it; the end is ``None`` while it lasts.
    ``worked`` says that a train went in.
    """

    began_id: int
    began_us: int
    worked: bool = False
    ended_id: int | None = None
    ended_us: int | None = None


@dataclass(slots=True)
class Work:
    """Where the work at a spur stands. ``since_us`` is when ``next`` last became what it is."""

    phase: str = "idle"
    next: str | None = None
    since_us: int = 0
    foreman: str = "not-asked"
    asked_us: int = 0
    test: str | None = None
    cars: int | None = None
    test_ends_us: int | None = None
    refused: str | None = None
    refused_us: int = 0
    rounds: list[Round] = field(default_factory=list)


@dataclass(slots=True)
class Board:
    """What the entries up to ``t_us`` come to."""

    t_us: int = 0
    last_id: int = 0
    stages: dict[str, str] = field(default_factory=dict)
    stage_since_us: dict[str, int] = field(default_factory=dict)
    work: dict[str, Work] = field(default_factory=dict)
    outputs: dict[str, dict[str, str]] = field(default_factory=dict)
    faults: dict[tuple[str, str], int] = field(default_factory=dict)
    speeds: list[tuple[int, str, float]] = field(default_factory=list)
    speed_of: dict[int, float] = field(default_factory=dict)

    def at(self, spur: str) -> Work:
        """The work at a spur; a spur never heard of is at rest."""
        return self.work.setdefault(spur, Work())

    def fold(self, line: Line, ident: int = 0) -> str | None:
        """Take one entry in and say which thing or contact it is about, if any.

        ``ident`` is the entry's id, which places the rounds of the work. An entry of a kind
        that this screen does not know changes nothing but the time.
        """
        self.t_us = round(float(line["t"]) * 1_000_000)
        self.last_id = ident
        handler = _FOLDS.get(line["what"])
        return handler(self, line) if handler else None


KEPT_SPEEDS = 8


def begin(outset: Mapping[str, Any]) -> Board:
    """The board of a session that has only just begun, from its ``outset``."""
    board = Board()
    board.stages.update(outset.get("stages", {}))
    board.stage_since_us.update(dict.fromkeys(board.stages, 0))
    for spur, (phase, step) in outset.get("phases", {}).items():
        job = board.at(spur)
        job.phase, job.next = phase, step
    for spur, word in outset.get("foremen", {}).items():
        board.at(spur).foreman = word
    for thing, shown in outset.get("outputs", {}).items():
        board.outputs[thing] = dict(shown)
    for fault, at in outset.get("faults", []):
        board.faults[fault, at] = 0
    return board


def _stage(board: Board, line: Line) -> str:
    switch: str = line["switch"]
    board.stages[switch] = line["stage"]
    board.stage_since_us[switch] = board.t_us
    return switch


def _phase(board: Board, line: Line) -> str:
    spur: str = line["spur"]
    job = board.at(spur)
    if job.next != line["next"]:
        job.since_us = board.t_us
    _note_round(board, job, line["phase"])
    job.phase, job.next = line["phase"], line["next"]
    if job.phase == "idle":
        job.test = None
    return spur


def _note_round(board: Board, job: Work, phase: str) -> None:
    if job.phase == "idle" and phase != "idle":
        job.rounds.append(Round(board.last_id, board.t_us))
    if not job.rounds:
        return
    if phase == "working":
        job.rounds[-1].worked = True
    if phase == "idle" and job.phase != "idle":
        job.rounds[-1].ended_id, job.rounds[-1].ended_us = board.last_id, board.t_us


def _foreman(board: Board, line: Line) -> str:
    spur: str = line["spur"]
    job = board.at(spur)
    job.foreman = line["is"]
    if job.foreman == "asked":
        job.asked_us = board.t_us
    return spur


def _brake_test(board: Board, line: Line) -> str:
    spur: str = line["spur"]
    job = board.at(spur)
    job.test = line["is"]
    if "cars" in line:
        job.cars = line["cars"]
        job.test_ends_us = board.t_us + round(line["seconds"] * 1_000_000)
    else:
        job.test_ends_us = None
    return spur


def _output(board: Board, line: Line) -> str:
    thing: str = line["of"]
    board.outputs.setdefault(thing, {})[line["output"]] = line["shows"]
    return thing


def _fault(board: Board, line: Line) -> str:
    at: str = line["at"]
    if line["ended"]:
        board.faults.pop((line["fault"], at), None)
    else:
        board.faults[line["fault"], at] = board.t_us
    return at


def _speed(board: Board, line: Line) -> str:
    at: str = line["at"]
    board.speeds.append((board.t_us, at, line["mph"]))
    del board.speeds[:-KEPT_SPEEDS]
    return at


def _violation(board: Board, line: Line) -> str:
    at: str = line["at"]
    if line["rule"] == "over-speed":
        for t_us, trap, mph in board.speeds:
            if (t_us, trap) == (board.t_us, at):
                board.speed_of[line["number"]] = mph
    return at


def _refused(board: Board, line: Line) -> str | None:
    spur: str | None = line.get("spur")
    if spur is not None:
        job = board.at(spur)
        job.refused = f"{line['command']}: {line['why']}"
        job.refused_us = board.t_us
    return spur


_FOLDS = {
    "stage": _stage,
    "phase": _phase,
    "foreman": _foreman,
    "brake-test": _brake_test,
    "output": _output,
    "fault": _fault,
    "speed": _speed,
    "violation": _violation,
    "refused": _refused,
}
