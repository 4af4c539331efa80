"""What the drawings show, as rows of words: for those who don't see them, and for spreadsheets."""

from __future__ import annotations

from collections.abc import Iterator
from typing import NamedTuple

from web.debrief.evening import Span, WaitFor
from web.debrief.naming import job_name, step_name, violation_says
from web.debrief.study import Debrief
from web.debrief.timeline import STAGE_WORDS
from web.debrief.times import clock, lasting
from web.debrief.waiting import bounds

MOST_ROWS = 400
NONE = "\N{EN DASH}"
"""What stands where there is no figure."""


class TimelineRow(NamedTuple):
    """Something that lasted, or happened at one moment (``lasts`` is empty then)."""

    t_us: int
    at: str
    where: str
    what: str
    lasts: str


def timeline_rows(debrief: Debrief) -> list[TimelineRow]:
    """Everything on the spurs' timeline in the order in which it began."""
    return sorted(_timeline(debrief), key=lambda row: row.t_us)


def _timeline(debrief: Debrief) -> Iterator[TimelineRow]:
    evening, plan = debrief.evening, debrief.plan
    for switch, spans in evening.stages.items():
        for span in spans:
            what = STAGE_WORDS.get(span.word, span.word)
            yield _row(span, plan.name(switch), what)
    for spur, spans in evening.phases.items():
        for span in spans:
            yield _row(span, plan.name(spur), span.word)
    for wait in evening.waits:
        what = "wait for the foreman" if wait.what is WaitFor.FOREMAN else "brake test"
        ending = f", {wait.ending}" if wait.ending else ""
        span = Span(f"{what}{ending}", wait.began_us, wait.ended_us, wait.open)
        yield _row(span, plan.name(wait.spur), span.word)
    for one in evening.violations:
        where = plan.name(one.spur or one.at)
        what = f"violation {one.number}: {violation_says(one, plan)}"
        yield TimelineRow(one.t_us, clock(one.t_us), where, what, "")


def _row(span: Span, where: str, what: str) -> TimelineRow:
    lasts = lasting(span.lasts_us) + (", still so at the end" if span.open else "")
    return TimelineRow(span.began_us, clock(span.began_us), where, what, lasts)


class JobRow(NamedTuple):
    """One round of a job."""

    at: str
    job: str
    spur: str
    lasts: str


def job_rows(debrief: Debrief) -> list[JobRow]:
    """Every round with the job it belongs to."""
    rows = []
    for one in debrief.crews.worked:
        began_us, ended_us = bounds(one, debrief.evening)
        name, spur = job_name(debrief.jobs, one.job), debrief.plan.name(one.spur)
        rows.append(JobRow(clock(began_us), name, spur, lasting(ended_us - began_us)))
    return rows


class StepRow(NamedTuple):
    """One step in words."""

    spur: str
    step: str
    now: str
    times: int
    usual: str
    spread: str
    before: int


def step_rows(debrief: Debrief) -> list[StepRow]:
    """The times at the steps."""
    rows = []
    for one in debrief.steps:
        before = one.before
        name = step_name(debrief.plan, one.spur, one.phase, one.step)
        usual = lasting(before.median) if before else NONE
        spread = (
            f"{lasting(before.quarter)} to {lasting(before.three_quarters)}" if before else NONE
        )
        count = before.count if before else 0
        now = lasting(one.now_spread.median)
        spur = debrief.plan.name(one.spur)
        rows.append(StepRow(spur, name, now, one.now_spread.count, usual, spread, count))
    return rows
