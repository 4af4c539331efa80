"""A debrief's drawings, each from what the study found; empty where there is nothing to draw."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from datetime import UTC, datetime

from markupsafe import Markup

from firmware_py.logbook.records import ViolationRecord
from web.debrief.digest import Digest
from web.debrief.evening import Span
from web.debrief.naming import NOBODY, job_name, step_name, violation_says
from web.debrief.plots import (
    Bar,
    StepRow,
    TrapRow,
    WaitRow,
    speeds_plot,
    steps_plot,
    trend_plot,
    waiting_plot,
)
from web.debrief.study import Debrief, violations_in
from web.debrief.timeline import Line, timeline
from web.debrief.waiting import bounds, waits_in
from web.live.plan import Row

NOTHING = Markup("")


def spurs_picture(debrief: Debrief) -> Markup:
    """The timeline of every spur, and of a switch without one, where anything happened."""
    lines = [one for row in debrief.plan.rows for one in _spur_line(row, debrief)]
    if not lines:
        return NOTHING
    says = _saying(debrief)
    length_us = debrief.evening.length_us
    return timeline("Timeline of each spur", lines, length_us, "spurs", says)


def quiet_rows(debrief: Debrief) -> list[str]:
    """The names of the rows at which nothing happened."""
    rows = debrief.plan.rows
    return [row.name for ident, row in rows.items() if not list(_spur_line(ident, debrief))]


def _saying(debrief: Debrief) -> Callable[[ViolationRecord], str]:
    return lambda violation: violation_says(violation, debrief.plan)


def _spur_line(row: str, debrief: Debrief) -> list[Line]:
    at, evening = debrief.plan.rows[row], debrief.evening
    spur = at.spur.id if at.spur else ""
    violations = [one for one in evening.violations if _belongs(one, row, debrief)]
    line = Line(
        at.name,
        _switch_name(at),
        evening.stages.get(at.switch.id, ()),
        evening.phases.get(spur, ()),
        [wait for wait in evening.waits if wait.spur == spur],
        violations,
    )
    return [line] if line.bands or line.phases or line.waits or violations else []


def _switch_name(row: Row) -> str:
    """The switch's name, where the row's own does not say it already."""
    if row.spur is None:
        return "switch"
    named = row.switch.name.lower().startswith(row.spur.name.lower())
    return "" if named else row.switch.name


def _belongs(violation: ViolationRecord, row: str, debrief: Debrief) -> bool:
    plan = debrief.plan
    rows = plan.rows_of(violation.spur or "") or plan.rows_of(violation.at)
    return row in rows[:1]


def jobs_picture(debrief: Debrief) -> Markup:
    """The timeline of every job with a round of its own, and of the rounds without a job."""
    order = [*debrief.jobs, 0]
    lines = [one for job in order for one in _job_line(job, debrief)]
    if not lines or all(one.name == NOBODY for one in lines):
        return NOTHING
    says = _saying(debrief)
    return timeline("Timeline of each job", lines, debrief.evening.length_us, "jobs", says)


def _job_line(job: int, debrief: Debrief) -> list[Line]:
    evening = debrief.evening
    mine = [one for one in debrief.crews.worked if one.job == job]
    if not mine:
        return []
    bands, waits, violations = [], [], []
    for one in mine:
        began_us, ended_us = bounds(one, evening)
        still = one.round.ended_us is None
        bands.append(Span(debrief.plan.name(one.spur), began_us, ended_us, still))
        waits.extend(waits_in(one, evening))
        meanwhile = (began_us, ended_us)
        violations.extend(violations_in(debrief.plan, one.spur, meanwhile, evening.violations))
    known = debrief.jobs.get(job)
    return [
        Line(job_name(debrief.jobs, job), known.crew if known else "", bands, (), waits, violations)
    ]


def steps_picture(debrief: Debrief) -> Markup:
    """The times at the steps, spur by spur."""
    rows: list[StepRow] = []
    spur = ""
    for one in debrief.steps:
        if one.spur != spur:
            spur = one.spur
            rows.append(StepRow(debrief.plan.name(spur)))
        name = step_name(debrief.plan, one.spur, one.phase, one.step)
        rows.append(StepRow(name, one.now, one.now_spread.median, one.before))
    return steps_plot("Time at each step", rows) if rows else NOTHING


def waiting_picture(debrief: Debrief) -> Markup:
    """Everybody's waiting first, then each job's."""
    if not debrief.whole.time_us:
        return NOTHING
    rows = [WaitRow("All crews", debrief.whole)]
    if any(debrief.shares):
        for job, share in sorted(debrief.shares.items(), key=lambda item: item[0] == 0):
            rows.append(WaitRow(job_name(debrief.jobs, job), share))
    label = "Share of the crews' time spent waiting"
    return waiting_plot(label, rows, debrief.ceiling, "waiting")


def speeds_picture(debrief: Debrief) -> Markup:
    """Every pass through every trap."""
    rows = []
    for trap in debrief.plan.layout.traps:
        mph = [one.mph for one in debrief.evening.passes if one.trap == trap.id]
        if mph:
            rows.append(TrapRow(trap.name, mph, trap.limit_mph))
    return speeds_plot("Speeds through each trap", rows) if rows else NOTHING


def trend_pictures(debrief: Debrief) -> list[tuple[str, str, Markup]]:
    """The last sessions side by side: what it is, in what, and the drawing."""
    sessions = debrief.sessions
    names = bar_names(sessions)
    here = debrief.told.header.id
    ceiling = float(debrief.ceiling)

    def bars(values: Mapping[int, float | None]) -> list[Bar]:
        return [
            Bar(names[one.session], values[one.session], one.session == here) for one in sessions
        ]

    per_hour = bars({one.session: one.violations_per_hour for one in sessions})
    waiting = bars({one.session: one.waiting.percent for one in sessions})
    rounds = bars({one.session: float(one.rounds) for one in sessions})
    cars = bars({one.session: float(one.cars) for one in sessions})
    return [
        ("Violations", "for each hour", trend_plot("Violations per hour", per_hour, ".1f")),
        (
            "Waiting",
            "per cent of the crews' time",
            trend_plot("Waiting, per cent", waiting, ".0f", ceiling),
        ),
        ("Spurs worked", "times that a train went in", trend_plot("Spurs worked", rounds, ".0f")),
        ("Cars", "on the sheets of finished stops", trend_plot("Cars", cars, ".0f")),
    ]


def bar_names(sessions: Sequence[Digest]) -> dict[int, str]:
    """What stands under each session's bar: its number."""
    return {one.session: str(one.session) for one in sessions}


def day_of(wall_us: int) -> str:
    """A moment in ISO form, in UTC: pages put it into the reader's zone."""
    return datetime.fromtimestamp(wall_us / 1_000_000, UTC).isoformat(timespec="seconds")
