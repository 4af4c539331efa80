"""Which jobs to leave out so that the rest is done in time, by the chance that the host wants.

One job after another is left out, each time that without which the rest is likeliest to be done;
the same drawn evenings are used for all, so that chance favours none of them.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from firmware_py.forecast.drawing import Drawing
from firmware_py.forecast.figures import chance_of
from firmware_py.forecast.lessons import Lesson
from firmware_py.forecast.simulating import play
from firmware_py.forecast.words import Figure, JobPlan, LeftOut, Question

MOST_PLAYED = 4_000
"""Evenings that the trying may take, and about how many each try has at most."""
EACH = 250


def left_out(
    question: Question,
    jobs: Sequence[JobPlan],
    drawing: Drawing,
    lesson: Lesson,
    chance: Figure,
) -> LeftOut:
    """The choice; ``chance`` is that of finishing everything."""
    within_s, gone, kept = question.minutes * 60, [], list(jobs)
    each = max(50, min(EACH, MOST_PLAYED * 2 // (len(jobs) ** 2 + 1)))
    while chance.value < question.chance and len(kept) > 1:
        tries = []
        for out in _candidates(kept):
            rest = [job for job in kept if job is not out]
            ends = play(question, rest, drawing, each).whole
            tries.append((_score(ends, within_s), out))
        best = max(tries, key=lambda one: (one[0], -kept.index(one[1])))[1]
        kept.remove(best)
        gone.append(best.id)
        ends = play(question, kept, drawing, min(question.evenings, 1000)).whole
        chance = chance_of(np.sort(ends), within_s, lesson)
    return LeftOut(tuple(gone), chance, chance.value >= question.chance)


def _candidates(kept: Sequence[JobPlan]) -> Sequence[JobPlan]:
    """Of a long list, only the jobs with the most stops: others would help too little."""
    most = 12
    if len(kept) <= most:
        return kept
    return sorted(kept, key=lambda job: -sum(2 + stop.cars for stop in job.stops))[:most]


def _score(
    ends: np.ndarray[tuple[int], np.dtype[np.float64]], within_s: float
) -> tuple[int, float]:
    """How many evenings are done in time and, where that is none for all, how early they end."""
    return int((ends <= within_s).sum()), -float(ends.mean())
