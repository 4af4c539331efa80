"""Everything that the debrief's page is filled with. Pure."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

from markupsafe import Markup

from web.debrief.evening import KeyOut
from web.debrief.naming import violation_title
from web.debrief.pictures import (
    day_of,
    jobs_picture,
    quiet_rows,
    speeds_picture,
    spurs_picture,
    steps_picture,
    trend_pictures,
    waiting_picture,
)
from web.debrief.plots import count_bar
from web.debrief.source import Header
from web.debrief.study import Debrief
from web.debrief.summary import Summary, counted, summary_of
from web.debrief.tables import (
    MOST_ROWS,
    NONE,
    JobRow,
    StepRow,
    TimelineRow,
    job_rows,
    step_rows,
    timeline_rows,
)
from web.debrief.times import clock, lasting
from web.debrief.view import violations_view
from web.forecast.compared import pictures, sentences
from web.live.faults import fault_title

MOST_REFUSALS = 30


@dataclass(frozen=True, slots=True)
class Choice:
    """A session in the list of them."""

    session: int
    began: str
    here: bool
    runs: bool


@dataclass(frozen=True, slots=True)
class Page:
    """The page. Drawings are empty where there is nothing to draw."""

    session: int
    layout: str
    began: str
    ended: bool
    opened: bool
    length: str
    summary: Summary
    figures: Sequence[tuple[str, str, str]]
    spurs: Markup
    quiet: Sequence[str]
    jobs: Markup
    steps: Markup
    waiting: Markup
    waiting_says: str
    ceiling: int
    speeds: Markup
    passes: Sequence[tuple[str, dict[str, Any]]]
    more_passes: int
    trends: Sequence[tuple[str, str, Markup]]
    history: int
    timeline_rows: Sequence[TimelineRow]
    more_rows: int
    job_rows: Sequence[JobRow]
    step_rows: Sequence[StepRow]
    rules: Sequence[dict[str, Any]]
    violations: Sequence[dict[str, Any]]
    faults: Sequence[tuple[str, str, str, str]]
    refusals: Sequence[tuple[str, str, str, str]]
    more_refusals: int
    keys: Sequence[tuple[str, str]]
    has_keys: bool
    choices: Sequence[Choice]
    forecast: tuple[Markup, Markup] | None = None
    forecast_says: Sequence[str] = ()


def page_of(debrief: Debrief, listed: Sequence[Header]) -> Page:
    """Fill the page."""
    evening, header = debrief.evening, debrief.told.header
    rows = timeline_rows(debrief)
    refusals = evening.refusals
    return Page(
        session=header.id,
        layout=header.layout_name,
        began=day_of(header.began_wall_us),
        ended=evening.ended,
        opened=header.opened,
        length=lasting(evening.length_us),
        summary=summary_of(debrief),
        figures=_figures(debrief),
        spurs=spurs_picture(debrief),
        quiet=quiet_rows(debrief),
        jobs=jobs_picture(debrief),
        steps=steps_picture(debrief),
        waiting=waiting_picture(debrief),
        waiting_says=_waiting_says(debrief),
        ceiling=debrief.ceiling,
        speeds=speeds_picture(debrief),
        passes=[(clock(one.t_us), debrief.speed(one)) for one in evening.passes[:MOST_ROWS]],
        more_passes=max(0, len(evening.passes) - MOST_ROWS),
        trends=trend_pictures(debrief) if len(debrief.sessions) > 1 else (),
        history=debrief.history,
        timeline_rows=rows[:MOST_ROWS],
        more_rows=max(0, len(rows) - MOST_ROWS),
        job_rows=job_rows(debrief),
        step_rows=step_rows(debrief),
        rules=_rules(debrief),
        violations=[one | {"at_clock": clock(one["t_us"])} for one in violations_view(debrief)],
        faults=_faults(debrief),
        refusals=[
            (clock(one.t_us), debrief.plan.name(one.spur or ""), one.command, one.why)
            for one in refusals[:MOST_REFUSALS]
        ],
        more_refusals=max(0, len(refusals) - MOST_REFUSALS),
        keys=[(debrief.plan.name(one.key), _key(one)) for one in evening.keys_out],
        has_keys=bool(debrief.plan.layout.keys),
        choices=[
            Choice(one.id, day_of(one.began_wall_us), one.id == header.id, not one.ended)
            for one in listed
        ],
        forecast=None if debrief.forecast is None else pictures(debrief.forecast),
        forecast_says=() if debrief.forecast is None else tuple(sentences(debrief.forecast)),
    )


def _figures(debrief: Debrief) -> list[tuple[str, str, str]]:
    """The figures at the top: what, how much, and what goes with it."""
    evening = debrief.evening
    left = sum(one.unacknowledged for one in debrief.rules)
    percent = debrief.whole.percent
    return [
        ("Lasted", lasting(evening.length_us), "" if evening.ended else "and goes on"),
        (
            "Spurs worked",
            str(evening.rounds),
            f"{debrief.clean_rounds} without a violation" if evening.rounds else "",
        ),
        (
            "Violations",
            str(len(evening.violations)),
            f"{left} not acknowledged"
            if left
            else "all acknowledged"
            if evening.violations
            else "",
        ),
        (
            "Waiting",
            NONE if percent is None else f"{percent:.0f} %",
            f"your ceiling is {debrief.ceiling} %",
        ),
    ]


def _waiting_says(debrief: Debrief) -> str:
    whole = debrief.whole
    if whole.percent is None:
        return "Nobody was at work, so nobody waited."
    side = "within" if whole.percent <= debrief.ceiling else "above"
    return (
        f"Crews were at work for {lasting(whole.time_us)} in all and waited for "
        f"{lasting(whole.waited_us)} of it, {whole.percent:.0f} %: {lasting(whole.foreman_us)} for "
        f"foremen, {lasting(whole.brake_test_us)} on brake tests. That is {side} your ceiling."
    )


def _rules(debrief: Debrief) -> list[dict[str, Any]]:
    most = max((one.violations for one in debrief.rules), default=1)
    return [
        {
            "title": violation_title(one.rule),
            "violations": one.violations,
            "times": one.times,
            "bar": count_bar(one.violations, most),
        }
        for one in debrief.rules
    ]


def _faults(debrief: Debrief) -> list[tuple[str, str, str, str]]:
    ending = "so at the end" if debrief.evening.ended else "so still"
    return [
        (
            fault_title(one.fault),
            debrief.plan.name(one.at),
            counted(one.times, "time"),
            lasting(one.lasted_us) + (f", {ending}" if one.stands else ""),
        )
        for one in debrief.faults
    ]


def _key(key: KeyOut) -> str:
    return "not on its hook" if key.known else "not known to be on its hook"
