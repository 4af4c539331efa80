"""From a question to its answer: everything put together."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Literal

import msgspec
import numpy as np

from firmware_py.forecast.checking import checked
from firmware_py.forecast.drawing import Drawing, Tie
from firmware_py.forecast.figures import chance_of, ends_of, mean_of, mean_of_sums
from firmware_py.forecast.leaving_out import left_out
from firmware_py.forecast.lessons import Lesson, lesson_of
from firmware_py.forecast.simulating import HOST, Played, play
from firmware_py.forecast.sources import Sources
from firmware_py.forecast.words import Answer, Bottleneck, Dial, Ends, JobPlan, Known, Question
from firmware_py.layout.model import ForemanKind

BOUNDS = 500
"""Evenings for each of the two bounds, and for each position of the dial."""


def answered(question: Question) -> Answer:
    """Answer a question. Raises ``ForecastError`` for one that has no answer."""
    jobs, unworkable = checked(question)
    sources = Sources(question.past, question.spurs)
    drawing = Drawing(question, sources, question.wait_scale)
    lesson = lesson_of(question.places)
    played = play(question, jobs, drawing, question.evenings)
    few = min(question.evenings, BOUNDS)
    bounds = [play(question, jobs, drawing, few, tie) for tie in (Tie.NONE, Tie.ALL)]
    whole = _whole(question, played, bounds, lesson)
    return Answer(
        question.minutes,
        question.crews,
        question.wait_scale,
        question.evenings,
        question.seed,
        question.chance,
        whole,
        _jobs(question, jobs, played, bounds, lesson),
        _bottlenecks(question, jobs, played),
        _dial(question, jobs, sources, lesson),
        left_out(question, jobs, drawing, lesson, whole.chance),
        _known(sources, jobs),
        tuple(unworkable),
        len({one.session for one in question.past}),
        lesson.count,
        round(sources.effects.evening, 4),
        round(sources.effects.crew, 4),
    )


def _known(sources: Sources, jobs: Sequence[JobPlan]) -> tuple[Known, ...]:
    """How the times are known that tonight's jobs need."""
    wanted = {stop.spur for job in jobs for stop in job.stops} | {""}
    return tuple(one for one in sources.known() if one.spur in wanted)


def _whole(question: Question, played: Played, bounds: Sequence[Played], lesson: Lesson) -> Ends:
    independent, together = (one.whole for one in bounds)
    within_s = question.minutes * 60
    about = 0, "All jobs"
    return ends_of(about, played.whole, within_s, lesson, (independent, together))


def _jobs(
    question: Question,
    jobs: Sequence[JobPlan],
    played: Played,
    bounds: Sequence[Played],
    lesson: Lesson,
) -> tuple[Ends, ...]:
    return tuple(
        ends_of(
            (job.id, job.name),
            played.ends[:, at],
            question.minutes * 60,
            lesson,
            (bounds[0].ends[:, at], bounds[1].ends[:, at]),
        )
        for at, job in enumerate(jobs)
    )


def _bottlenecks(
    question: Question, jobs: Sequence[JobPlan], played: Played
) -> tuple[Bottleneck, ...]:
    """What crews wait for, the longest first; what nobody waits for is left out."""
    spurs = {spur.id: spur for spur in question.spurs}
    found = []
    for claim, waits in played.waits.items():
        wanted = tuple(
            job.id
            for job in jobs
            if any(
                spurs[stop.spur].foreman is ForemanKind.HOST
                if claim == HOST
                else claim in spurs[stop.spur].claims
                for stop in job.stops
            )
        )
        waited, busy = mean_of_sums(waits.count, waits.sum_s, waits.squares), waits.busy
        if waited.value > 0.5 and wanted:
            name = "the foreman" if claim == HOST else _called(claim, question)
            what: Literal["spur", "foreman"] = "foreman" if claim == HOST else "spur"
            found.append(
                Bottleneck(what, claim, name, waited, round(busy / waits.count, 4), wanted)
            )
    return tuple(sorted(found, key=lambda one: -one.waited_s.value))


def _called(claim: str, question: Question) -> str:
    """A switch is called by its spur where it has only one, as crews do."""
    own = [spur.name for spur in question.spurs if claim in spur.claims]
    return own[0] if len(own) == 1 else question.names.get(claim, claim)


def _dial(
    question: Question, jobs: Sequence[JobPlan], sources: Sources, lesson: Lesson
) -> tuple[Dial, ...]:
    """Each position of the dial, on the same evenings."""
    few = min(question.evenings, BOUNDS)
    found = []
    for scale in sorted({*question.scales, question.wait_scale}):
        at = msgspec.structs.replace(question, wait_scale=scale)
        played = play(at, jobs, Drawing(at, sources, scale), few)
        share = mean_of(100 * played.paced)
        ordered = np.sort(played.whole)
        chance = chance_of(ordered, question.minutes * 60, lesson)
        middle_s = float(np.quantile(ordered, lesson.bend(0.5)))
        found.append(Dial(scale, share, round(middle_s, 2), chance))
    return tuple(found)
