"""Everything that a debrief tells, put together from an evening and the sessions before. Pure."""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from firmware_py.logbook.records import ViolationRecord
from firmware_py.logbook.screen.jobs import Job
from web.debrief.digest import Crews, Digest, crews_of, digest_of
from web.debrief.evening import Evening, FaultSpan, Pass
from web.debrief.library import Told
from web.debrief.naming import orders_of
from web.debrief.pace import StepTime, step_times, step_totals
from web.debrief.waiting import Waiting, bounds, overall, waiting_of
from web.forecast.compared import Compared
from web.live.passes import during, speed_view, toward_says
from web.live.plan import Plan

SHOWN_SESSIONS = 10
"""How many sessions stand side by side, this one among them."""

LINE_US = 1_000


@dataclass(frozen=True, slots=True)
class RuleCount:
    """A rule that was broken: how many violations, and how often in all with repeats."""

    rule: str
    violations: int
    times: int
    unacknowledged: int


@dataclass(frozen=True, slots=True)
class FaultCount:
    """A fault at one place: how often it came and how long it lasted in all."""

    fault: str
    at: str
    times: int
    lasted_us: int
    stands: bool


@dataclass(frozen=True, slots=True)
class Debrief:
    """All of it. ``history`` are earlier sessions of the same layout, newest first.

    ``shares`` are by job, 0 for rounds without one; ``sessions`` are the last ones, oldest
    first, with this one at the end.
    """

    told: Told
    plan: Plan
    jobs: Mapping[int, Job]
    crews: Crews
    shares: Mapping[int, Waiting]
    whole: Waiting
    ceiling: int
    steps: Sequence[StepTime]
    history: int
    sessions: Sequence[Digest]
    rules: Sequence[RuleCount]
    faults: Sequence[FaultCount]
    forecast: Compared | None = None

    @property
    def evening(self) -> Evening:
        """The session itself."""
        return self.told.evening

    @property
    def clean_rounds(self) -> int:
        """Rounds with a train in them and no violation of their spur meanwhile."""
        worked = [one for one in self.crews.worked if one.round.worked]
        return sum(
            not violations_in(
                self.plan, one.spur, bounds(one, self.evening), self.evening.violations
            )
            for one in worked
        )

    def limit(self, trap: str) -> float | None:
        """A trap's limit in scale miles per hour."""
        limits = {one.id: one.limit_mph for one in self.plan.layout.traps}
        return limits.get(trap)

    def speed(self, one: Pass) -> dict[str, Any]:
        """A pass as people read it: how sure, which limit, which way and whose."""
        traps = {trap.id: trap for trap in self.plan.layout.traps}
        rows = self.plan.rows_of(one.trap)
        near = [by for by in self.crews.worked if by.spur in rows and by.job]
        jobs = dict.fromkeys(
            self.jobs[by.job].name
            for by in near
            if by.job in self.jobs and during((by.round,), one.t_us)
        )
        return {
            **speed_view(traps.get(one.trap), one.mph, self.plan.layout.ratio),
            "name": self.plan.name(one.trap),
            "toward": toward_says(self.plan, one.toward),
            "job": " or ".join(jobs),
        }

    def too_fast(self, one: Pass) -> bool:
        """Whether a pass was faster than its trap's limit."""
        limit = self.limit(one.trap)
        return limit is not None and one.mph > limit


def study(
    told: Told,
    jobs: Sequence[Job],
    history: Sequence[Digest],
    ceiling: int,
    forecast: Compared | None = None,
) -> Debrief:
    """Put a debrief together."""
    evening, header = told.evening, told.header
    crews = crews_of(evening, jobs, told.ticks)
    shares = waiting_of(crews.worked, evening)
    totals = step_totals(evening)
    before = [digest.steps for digest in history]
    count = len(evening.violations)
    mine = digest_of((header.id, header.began_wall_us), evening, count, crews)
    return Debrief(
        told,
        Plan(told.layout),
        {job.id: job for job in jobs},
        crews,
        shares,
        overall(shares),
        ceiling,
        step_times(totals, before, orders_of(told.layout)),
        len(history),
        [*reversed(history[: SHOWN_SESSIONS - 1]), mine],
        rule_counts(evening.violations),
        fault_counts(evening.faults),
        forecast,
    )


def rule_counts(violations: Sequence[ViolationRecord]) -> list[RuleCount]:
    """By rule, the most frequent first."""
    many: Counter[str] = Counter(one.rule for one in violations)
    times: Counter[str] = Counter()
    waiting: Counter[str] = Counter()
    for one in violations:
        times[one.rule] += one.times
        waiting[one.rule] += one.acknowledged_t_us is None
    return [
        RuleCount(rule, count, times[rule], waiting[rule]) for rule, count in many.most_common()
    ]


def fault_counts(faults: Sequence[FaultSpan]) -> list[FaultCount]:
    """By fault and place, the longest first."""
    grouped: dict[tuple[str, str], list[FaultSpan]] = {}
    for one in faults:
        grouped.setdefault((one.fault, one.at), []).append(one)
    counts = [
        FaultCount(
            fault,
            at,
            len(spans),
            sum(one.ended_us - one.began_us for one in spans),
            any(one.open for one in spans),
        )
        for (fault, at), spans in grouped.items()
    ]
    return sorted(counts, key=lambda one: (-one.lasted_us, one.at))


def violations_in(
    plan: Plan, spur: str, span: tuple[int, int], violations: Sequence[ViolationRecord]
) -> list[ViolationRecord]:
    """Those of a spur within a span of session time, which lines give to the millisecond.

    One that names no spur, such as a speed trap's, belongs to the spurs on whose rows it stands.
    """
    began_us, ended_us = span[0] - LINE_US, span[1] + LINE_US
    meanwhile = [one for one in violations if began_us <= one.t_us <= ended_us]
    return [
        one
        for one in meanwhile
        if one.spur == spur or (not one.spur and spur in plan.rows_of(one.at))
    ]
