"""What a forecast is asked with, out of the logbook: jobs, the last sessions, their forecasts."""

from __future__ import annotations

import json
from collections import Counter
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import msgspec
from sqlalchemy import Engine, select

from firmware_py.forecast.attributing import Evening, Mark
from firmware_py.forecast.dial import DIAL, kept_scale, positions
from firmware_py.forecast.lessons import place_of
from firmware_py.forecast.past import Known, past_of
from firmware_py.forecast.rounds import KINDS, Rounds
from firmware_py.forecast.site import names_of, spurs_of
from firmware_py.forecast.words import Answer, JobPlan, Past, Question, StopPlan
from firmware_py.layout.model import ForemanKind, Layout
from firmware_py.logbook.errors import telling
from firmware_py.logbook.reading import Reader
from firmware_py.logbook.screen.forecasts import Kept, for_session, forecasts_of
from firmware_py.logbook.screen.jobs import Job, jobs_of
from firmware_py.logbook.screen.settings import setting
from firmware_py.logbook.screen.ticks import ticks_of
from firmware_py.logbook.tables import SESSION

LOOKED_BACK = 30
"""Sessions that a forecast learns from: groups and layouts change."""
BATCH = 2_000


class Wanted(msgspec.Struct, frozen=True):
    """What the host says himself; ``None`` is for what the logbook says."""

    minutes: float = 120.0
    crews: int | None = None
    chance: float = 0.8
    evenings: int = 2000
    seed: int = 1
    wait_scale: float | None = None


@dataclass(frozen=True, slots=True)
class Fact:
    """What came of a forecast: when each of its jobs ended, ``None`` for one that did not.

    ``whole_s`` is when the last one did; ``until_s`` is how long the session lasted.
    """

    ended: Mapping[int, float | None]
    until_s: float

    @property
    def whole_s(self) -> float | None:
        """When the last of the jobs ended, if all did."""
        ends = list(self.ended.values())
        known = [end for end in ends if end is not None]
        return max(known) if known and len(known) == len(ends) else None

    @property
    def tells(self) -> bool:
        """Whether the evening was that of the forecast at all."""
        return any(end is not None for end in self.ended.values())


@dataclass(frozen=True, slots=True)
class _Header:
    id: int
    began_wall_us: int
    ended_t_us: int | None
    outset: str


def plan_of(job: Job) -> JobPlan:
    """A job as a forecast takes it."""
    stops = tuple(StopPlan(stop.spur, len(stop.pull) + len(stop.spot)) for stop in job.stops)
    return JobPlan(job.id, job.name, job.crew, max(1, job.cars), stops)


def usual_crews(jobs: Sequence[Job]) -> int:
    """How many crews the jobs name; those without one are taken to share one more."""
    named = {" ".join(job.crew.split()).casefold() for job in jobs}
    return max(1, len(named))


def question_of(engine: Engine, layout: Layout, wanted: Wanted) -> Question:
    """The whole question. Raises ``LogbookError`` if the logbook can't be read."""
    jobs = jobs_of(engine, layout.name)
    past, places, rounds = _history(engine, layout)
    scale = wanted.wait_scale
    if scale is None:
        scale = kept_scale(setting(engine, DIAL), layout.wait_scale)
    return Question(
        spurs_of(layout),
        names_of(layout),
        layout.clock_ratio,
        tuple(plan_of(job) for job in jobs),
        usual_crews(jobs) if wanted.crews is None else wanted.crews,
        wanted.minutes,
        scale,
        tuple(at.scale for at in positions(layout.clock_ratio)),
        tuple(past),
        dict(rounds),
        tuple(places),
        wanted.chance,
        wanted.evenings,
        wanted.seed,
    )


def fact_of(engine: Engine, layout: Layout, session: int, answer: Answer) -> Fact | None:
    """What came of a forecast in a session; ``None`` if there is no such session."""
    header = next((one for one in _headers(engine, layout.name) if one.id == session), None)
    if header is None:
        return None
    _, evening, until_s = _told(engine, layout, header, {})
    return _fact(evening, until_s, answer)


def forecast_of(engine: Engine, layout_name: str, session: int) -> Kept | None:
    """The forecast that a session was opened with, if one was made."""
    headers = _headers(engine, layout_name)
    at = next((place for place, one in enumerate(headers) if one.id == session), None)
    if at is None:
        return None
    before = headers[at - 1].began_wall_us if at else None
    kept = forecasts_of(engine, layout_name)
    return for_session(kept, headers[at].began_wall_us, before)


def _history(engine: Engine, layout: Layout) -> tuple[list[Past], list[float], Mapping[str, int]]:
    """The last sessions' times, where facts fell in their forecasts, and each crew's rounds."""
    headers = _headers(engine, layout.name)
    kept = forecasts_of(engine, layout.name)
    newest = _newest(engine)
    past: list[Past] = []
    places: list[float] = []
    rounds: Counter[str] = Counter()
    for at in range(max(0, len(headers) - LOOKED_BACK), len(headers)):
        header = headers[at]
        if header.id == newest and header.ended_t_us is None:
            continue  # It goes on: what is not done yet is no fact.
        mine, evening, until_s = _told(engine, layout, header, rounds)
        past += mine
        rounds.update(one.crew for one in mine if one.crew)
        before = headers[at - 1].began_wall_us if at else None
        forecast = for_session(kept, header.began_wall_us, before)
        if forecast is not None:
            places += _place(forecast.answer, _fact(evening, until_s, forecast.answer))
    return past, places, rounds


def _place(answer: Answer, fact: Fact) -> list[float]:
    if not fact.tells:
        return []
    whole_s, raw = fact.whole_s, answer.whole.raw
    if whole_s is None:
        return [place_of(fact.until_s, raw, ended=False)]
    return [place_of(whole_s, raw)]


def _fact(evening: Evening, until_s: float, answer: Answer) -> Fact:
    return Fact({one.job: evening.ended_s(one.job) for one in answer.jobs}, until_s)


def _told(
    engine: Engine, layout: Layout, header: _Header, rounds: Mapping[str, int]
) -> tuple[list[Past], Evening, float]:
    marks = [
        Mark(
            tick.job_id,
            tick.stop,
            str(tick.step),
            tick.entry_id,
            (tick.wall_us - header.began_wall_us) / 1e6,
        )
        for tick in ticks_of(engine, header.id)
    ]
    heard = {mark.job for mark in marks}
    jobs = [
        plan_of(job)
        for job in jobs_of(engine, layout.name, dropped=True)
        if not job.dropped or job.id in heard
    ]
    jobs.sort(key=lambda job: job.id not in heard)  # Those of that evening come first.
    found = Rounds(json.loads(header.outset).get("phases", {}))
    for ident, line in _lines(engine, header.id):
        found.take(line, ident)
    hosts = frozenset(spur.id for spur in layout.spurs if spur.foreman is ForemanKind.HOST)
    past, evening = past_of(header.id, found, jobs, marks, Known(hosts, rounds))
    until_s = found.last_s if header.ended_t_us is None else header.ended_t_us / 1e6
    return past, evening, until_s


def _lines(engine: Engine, session: int) -> Iterator[tuple[int, Mapping[str, Any]]]:
    reader, after = Reader(engine), 0
    while batch := reader.entries(session, after, BATCH, KINDS):
        yield from ((one.id, one.line) for one in batch)
        after = batch[-1].id


def _headers(engine: Engine, layout_name: str) -> list[_Header]:
    """The sessions for work on a layout, oldest first."""
    c = SESSION.c
    wanted = select(c.id, c.began_wall_us, c.ended_t_us, c.outset)
    chosen = wanted.where(c.layout_name == layout_name, c.opened).order_by(c.id)
    with telling(engine), engine.connect() as connection:
        return [_Header(*row) for row in connection.execute(chosen)]


def _newest(engine: Engine) -> int | None:
    with telling(engine), engine.connect() as connection:
        return connection.scalar(select(SESSION.c.id).order_by(SESSION.c.id.desc()).limit(1))
