"""Everything that the forecast's page is filled with. Pure."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from markupsafe import Markup

from firmware_py.forecast.dial import positions
from firmware_py.forecast.words import Answer, Dial, Ends
from web.debrief.naming import step_name
from web.debrief.pictures import day_of
from web.forecast import said
from web.forecast.plots import NARROW, WIDE, Ending, forecast_plot, share_bar
from web.live.plan import Plan

ELSEWHERE = {
    "start": "To a crew's first stop",
    "travel": "From stop to stop",
    "answer": "The host's answer",
}


@dataclass(frozen=True, slots=True)
class DialRow:
    """A position of the dial: what it costs, once a forecast can tell."""

    scale: float
    word: str
    chosen: bool
    says: str
    bar: Markup
    over: bool


@dataclass(frozen=True, slots=True)
class EndRow:
    """A row of the table that says the same as the drawing."""

    name: str
    low: str
    middle: str
    high: str
    chance: str
    error: str
    independent: str
    together: str


@dataclass(frozen=True, slots=True)
class KnownRow:
    """How a step's time is known."""

    where: str
    step: str
    how: str
    low: str
    likely: str
    high: str


@dataclass(frozen=True, slots=True)
class Forecast:
    """A forecast that was made. ``old`` says that the jobs have changed since."""

    made: str
    lead: str
    middle: str
    out: str
    held_up: Sequence[str]
    known: str
    wide: Markup
    narrow: Markup
    rows: Sequence[EndRow]
    known_rows: Sequence[KnownRow]
    unworkable: Sequence[tuple[str, str]]
    evenings: int
    error: str
    old: bool
    fits: bool


@dataclass(frozen=True, slots=True)
class Page:
    """The page."""

    jobs: int
    minutes: int
    crews: int
    usual_crews: int
    chance: int
    ceiling: int
    dial: Sequence[DialRow]
    in_force: str
    forecast: Forecast | None


@dataclass(frozen=True, slots=True)
class Evening:
    """What stands now: the plan, how many jobs and crews, the dial as set and as it is in force."""

    plan: Plan
    jobs: Mapping[int, str]
    crews: int
    ceiling: int
    scale: float
    in_force: float


def page_of(evening: Evening, answer: Answer | None, made_wall_us: int) -> Page:
    """Fill the page, with the newest forecast if there is one."""
    return Page(
        len(evening.jobs),
        round(answer.minutes) if answer else 120,
        answer.crews if answer else evening.crews,
        evening.crews,
        round(100 * answer.chance_wanted) if answer else 80,
        evening.ceiling,
        _dial(evening, answer),
        _word(evening.in_force, evening),
        _forecast(evening, answer, made_wall_us) if answer else None,
    )


def _forecast(evening: Evening, answer: Answer, made_wall_us: int) -> Forecast:
    out, end_s = frozenset(answer.leave_out.jobs), answer.minutes * 60
    drawings = [
        forecast_plot(Ending(answer.whole, answer.jobs, end_s, out), shape)
        for shape in (WIDE, NARROW)
    ]
    told = {one.job for one in answer.jobs} | {one.job for one in answer.unworkable}
    return Forecast(
        day_of(made_wall_us),
        said.lead(answer),
        said.middle(answer),
        said.to_leave_out(answer),
        tuple(said.held_up(answer)),
        said.known(answer),
        drawings[0],
        drawings[1],
        [_end_row(one) for one in (answer.whole, *answer.jobs)],
        _known_rows(evening.plan, answer),
        [(one.name, one.why) for one in answer.unworkable],
        answer.evenings,
        said.give_or_take(answer.whole.chance),
        told != set(evening.jobs),
        answer.whole.chance.value >= answer.chance_wanted,
    )


def _end_row(ends: Ends) -> EndRow:
    def span(low: float, high: float) -> str:
        return f"{said.hours(low)} to {said.hours(high)}"

    return EndRow(
        "Everything" if ends.job == 0 else ends.name,
        said.hours(ends.low.value),
        said.hours(ends.middle.value),
        said.hours(ends.high.value),
        said.percent(ends.chance.value),
        f"± {max(1, round(ends.middle.error / 60))} min, {said.give_or_take(ends.chance)} %",
        span(ends.independent.low, ends.independent.high),
        span(ends.together.low, ends.together.high),
    )


def _known_rows(plan: Plan, answer: Answer) -> list[KnownRow]:
    rows = []
    for one in answer.known:
        name = step_name(plan, one.spur, one.phase, one.step) if one.spur else ELSEWHERE[one.step]
        each = ", for each car" if (one.phase, one.step) == ("working", "work") else ""
        times_known = "1 time" if one.count == 1 else f"{one.count} times"
        how = times_known if one.measured else f"estimate, {times_known} so far"
        times = [said.length(t) for t in (one.low_s, one.likely_s, one.high_s)]
        rows.append(KnownRow(plan.name(one.spur) if one.spur else "", name + each, how, *times))
    return rows


def _dial(evening: Evening, answer: Answer | None) -> list[DialRow]:
    costs = {one.scale: one for one in answer.dial} if answer else {}
    known = {at.scale: at.word for at in positions(evening.plan.layout.clock_ratio)}
    for scale in (evening.scale, evening.in_force):
        known.setdefault(scale, "your own")
    return [_dial_row(scale, known[scale], evening, costs.get(scale)) for scale in sorted(known)]


def _dial_row(scale: float, word: str, evening: Evening, cost: Dial | None) -> DialRow:
    chosen = scale == evening.scale
    if cost is None:
        return DialRow(scale, word, chosen, "", Markup(""), over=False)
    waiting = cost.waiting_percent.value
    says = (
        f"{waiting:.0f} % of crews' time is waiting; about {said.hours(cost.middle_s)} in all, in "
        f"time with {said.percent(cost.chance.value)}"
    )
    bar = share_bar(waiting, evening.ceiling)
    return DialRow(scale, word, chosen, says, bar, waiting > evening.ceiling)


def _word(scale: float, evening: Evening) -> str:
    known = {at.scale: at.word for at in positions(evening.plan.layout.clock_ratio)}
    return known.get(scale, f"{scale:g} times as long as the layout says")
