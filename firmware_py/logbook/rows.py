"""How the engine's jobs become rows of the logbook's tables."""

from __future__ import annotations

import json
from collections.abc import Iterator
from enum import IntEnum
from typing import Any

from msgspec.structs import astuple

from firmware_py.core.entries import (
    BrakeTestEntry,
    Entry,
    FaultEntry,
    ForemanEntry,
    OutputEntry,
    PhaseEntry,
    Refused,
    SpeedEntry,
    StageEntry,
    Violation,
)
from firmware_py.logbook.pending import (
    AcknowledgedJob,
    AnswerJob,
    BeginJob,
    ByHandJob,
    EndJob,
    EntryJob,
    Job,
    PulseJob,
    RemarkJob,
    RepeatJob,
    StandingJob,
    TapeJob,
)
from firmware_py.tape.lines import text_of, what_of

Values = tuple[Any, ...]


class Step(IntEnum):
    """The statements of one transaction, in the order in which they may safely run.

    A violation comes before what changes it; steps that share no row may go in any order.
    """

    BEGIN = 0
    TAPE = 1
    ENTRY = 2
    VIOLATION = 3
    REPEAT = 4
    ACKNOWLEDGED = 5
    FORGET = 6
    STANDING = 7
    ANSWER = 8
    REMARK = 9
    PULSE = 10
    END = 11
    GAP = 12
    NUMBERED_ENTRY = 13
    HAND_OFF = 14
    HAND_ON = 15


_PLAIN: dict[type[Job], Step] = {
    TapeJob: Step.TAPE,
    RepeatJob: Step.REPEAT,
    AcknowledgedJob: Step.ACKNOWLEDGED,
    AnswerJob: Step.ANSWER,
    RemarkJob: Step.REMARK,
    PulseJob: Step.PULSE,
    EndJob: Step.END,
}


def rows_by_step(jobs: list[Job]) -> dict[Step, list[Values]]:
    """Gather the rows of many jobs by statement, in order within each."""
    gathered: dict[Step, list[Values]] = {}
    hands = {job.output: job for job in jobs if isinstance(job, ByHandJob)}
    for job in jobs:
        if isinstance(job, ByHandJob) and hands[job.output] is not job:
            continue  # The last word on an output is all that is kept of it.
        for step, values in _rows(job):
            gathered.setdefault(step, []).append(values)
    return dict(sorted(gathered.items()))


def _rows(job: Job) -> Iterator[tuple[Step, Values]]:
    match job:
        case EntryJob():
            yield Step.ENTRY, _entry_row(job)
            if isinstance(job.entry, Violation):
                yield Step.VIOLATION, violation_row(job, job.entry)
        case StandingJob():
            yield Step.FORGET, (job.contact,)
            yield Step.STANDING, astuple(job)
        case ByHandJob():
            yield Step.HAND_OFF, (job.output,)
            if job.shows is not None:
                yield Step.HAND_ON, astuple(job)
        case BeginJob():
            yield Step.BEGIN, session_row(job)
        case _:
            yield _PLAIN[type(job)], astuple(job)


def session_row(job: BeginJob) -> Values:
    """Make the row of a session that begins."""
    return astuple(job)[:-1]


def _entry_row(job: EntryJob) -> Values:
    entry = job.entry
    at, spur = whereabouts(entry)
    what = what_of(entry).value
    return job.session_id, entry.t_us, job.wall_us, what, at, spur, text_of(entry)


def violation_row(job: EntryJob, entry: Violation) -> Values:
    """Make the row of a new violation: it has come once, and nobody has acknowledged it."""
    where = entry.rule.value, entry.at, entry.spur, json.dumps(entry.missing)
    return job.session_id, entry.number, entry.t_us, job.wall_us, *where, 1, entry.t_us


def whereabouts(entry: Entry) -> tuple[str | None, str | None]:
    """Say what an entry is about, and its spur where the entry itself tells it."""
    match entry:
        case Violation():
            return entry.at, entry.spur
        case FaultEntry() | SpeedEntry():
            return entry.at, None
        case StageEntry():
            return entry.switch, None
        case OutputEntry():
            return entry.of, None
        case Refused() | ForemanEntry() | BrakeTestEntry() | PhaseEntry():
            return entry.spur, entry.spur
