"""One session's rounds as the times that later forecasts learn from. Pure, light."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import NamedTuple

from firmware_py.forecast.attributing import Evening, Mark, evening_of, ways_of
from firmware_py.forecast.rounds import Rounds, answers_of
from firmware_py.forecast.words import JobPlan, Past


def crew_of(job: JobPlan) -> str:
    """The crew's name as crews are told apart by it."""
    return " ".join(job.crew.split()).casefold()


class Known(NamedTuple):
    """What is known before a session's rounds are told.

    ``hosts`` are the spurs whose foreman is the host; ``rounds_before`` says how many rounds each
    crew had worked before.
    """

    hosts: frozenset[str]
    rounds_before: Mapping[str, int]


def past_of(
    session: int,
    found: Rounds,
    jobs: Sequence[JobPlan],
    marks: Sequence[Mark],
    known: Known,
) -> tuple[list[Past], Evening]:
    """The times of a session's rounds that came to their end, and how its jobs went.

    A tick or a guess gives each round to a crew, as ``attributing.py`` says.
    """
    evening = evening_of(jobs, found.rounds, marks)
    answers, ways = answers_of(found.rounds, known.hosts), ways_of(evening, found.rounds)
    crews = {job.id: crew_of(job) for job in jobs}
    owners = {
        stop.round.began_id: stop
        for stops in evening.stops.values()
        for stop in stops
        if stop.round is not None
    }
    made: list[Past] = []
    for one in found.rounds:
        if not one.worked or one.ended_s is None:
            continue
        stop, way = owners.get(one.began_id), ways.get(one.began_id)
        crew = crews[stop.job] if stop else ""
        steps = dict(one.steps)
        if "working/work" in steps:
            steps["working/work"] = max(0.0, steps["working/work"] - one.tested_s)
        made.append(
            Past(
                session,
                one.spur,
                crew,
                stop.job if stop else 0,
                known.rounds_before.get(crew, 0) if crew else None,
                stop.cars if stop else None,
                steps,
                one.tests,
                answers.get(one.began_id),
                way.seconds if way and way.first else None,
                way.seconds if way and not way.first else None,
            )
        )
    return made, evening
