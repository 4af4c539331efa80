"""Whether a question has an answer, and which of its jobs can be worked. Light."""

from __future__ import annotations

import math

from firmware_py.forecast.words import (
    FEWEST_EVENINGS,
    LEAST_SCALE,
    MOST_CREWS,
    MOST_EVENINGS,
    MOST_JOBS,
    MOST_MINUTES,
    MOST_SCALE,
    MOST_STOPS,
    ForecastError,
    JobPlan,
    Question,
    Unworkable,
)

LONGEST_RATIO = 1e6


def checked(question: Question) -> tuple[list[JobPlan], list[Unworkable]]:
    """The jobs that can be worked, and the others with why not.

    Raises ``ForecastError`` for numbers that no evening can have, and where no job is left.
    """
    for wrong in _wrong_numbers(question):
        raise ForecastError(wrong)
    spurs = {spur.id: spur for spur in question.spurs}
    good: list[JobPlan] = []
    bad: list[Unworkable] = []
    for job in question.jobs:
        why = _why_not(job, set(spurs))
        if why is None:
            good.append(job)
        else:
            bad.append(Unworkable(job.id, job.name, why))
    if not good:
        reasons = "; ".join(f"{one.name}: {one.why}" for one in bad[:3])
        raise ForecastError(
            f"none of the jobs can be worked ({reasons})"
            if bad
            else "there is no job to forecast; prepare one on the Jobs page first"
        )
    return good, bad


def _why_not(job: JobPlan, spurs: set[str]) -> str | None:
    if not job.stops:
        return "it has no stop; give it a spur to work"
    strange = next((stop.spur for stop in job.stops if stop.spur not in spurs), None)
    if strange is not None:
        return f"the layout has no spur {strange}"
    if any(not 0 <= stop.cars <= 1000 for stop in job.stops) or not 0 <= job.train <= 1000:
        return "no train has so many cars; give 0 to 1000"
    return None


def _wrong_numbers(asked: Question) -> list[str]:
    """What is wrong with the numbers, in words; NaN is within no range."""
    ranges = (
        ("the number of crews", asked.crews, 1, MOST_CREWS),
        ("the evening's minutes", asked.minutes, 1, MOST_MINUTES),
        ("the chance wanted", asked.chance, 0.01, 0.99),
        ("the number of evenings", asked.evenings, FEWEST_EVENINGS, MOST_EVENINGS),
        ("the seed", asked.seed, 0, 2**32 - 1),
        ("the layout's clock ratio", asked.clock_ratio, 1 / LONGEST_RATIO, LONGEST_RATIO),
        *(
            ("the pace dial", scale, LEAST_SCALE, MOST_SCALE)
            for scale in (asked.wait_scale, *asked.scales)
        ),
    )
    found = [
        f"{name} is {value:g}; give {low:g} to {high:g}"
        for name, value, low, high in ranges
        if not low <= value <= high
    ]
    if len(asked.jobs) > MOST_JOBS:
        found.append(f"these are {len(asked.jobs)} jobs; give at most {MOST_JOBS}")
    stops = sum(len(job.stops) for job in asked.jobs)
    if stops > MOST_STOPS:
        found.append(f"these jobs have {stops} stops in all; give at most {MOST_STOPS}")
    if len({job.id for job in asked.jobs}) < len(asked.jobs):
        found.append("two jobs have the same number; each needs its own")
    for spur in asked.spurs:
        low, high = spur.answer_s
        if not (0 <= low <= high and math.isfinite(high)):
            found.append(f"the foreman of {spur.name} answers in {low:g} to {high:g} s, in no time")
    for one in asked.past:
        times = (*one.steps.values(), one.answer_s, one.start_s, one.travel_s)
        if any(t is not None and not (math.isfinite(t) and t >= 0) for t in times):
            found.append(f"session {one.session} of the log has a time that is none")
            break
    return found
