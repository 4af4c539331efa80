"""Forecasts made before each of many evenings, and where the facts then fell."""

from __future__ import annotations

from collections import deque
from collections.abc import Iterator
from dataclasses import dataclass
from random import Random

from firmware_py.forecast.answering import answered
from firmware_py.forecast.lessons import MOST, place_of
from firmware_py.forecast.words import Answer, Past
from tests.forecast.forecast_evenings import Group, question_of

LOOKED_BACK = 30
"""Sessions that a forecast learns from."""


@dataclass(frozen=True)
class Compared:
    """A forecast and its fact. ``place`` is where it fell in the forecast as it was not bent."""

    answer: Answer
    fact_s: float
    place: float

    @property
    def inside(self) -> bool:
        """Whether the fact fell inside the 80 % band."""
        return self.answer.whole.low.value <= self.fact_s <= self.answer.whole.high.value

    @property
    def inside_bounds(self) -> bool:
        """Whether it fell inside the pessimistic bound's band, of times all tied together."""
        return self.answer.whole.together.low <= self.fact_s <= self.answer.whole.together.high


def compared(seed: int, count: int, evenings: int, warming: int = 0) -> Iterator[Compared]:
    """Forecast and play ``count`` evenings, after ``warming`` that are only played."""
    group = Group(Random(seed))
    past: deque[list[Past]] = deque(maxlen=LOOKED_BACK)
    places: deque[float] = deque(maxlen=MOST)
    for number in range(warming + count):
        jobs = group.jobs()
        known = [one for session in past for one in session]
        question = question_of(
            group, jobs, known, evenings=evenings, seed=number, chance=0.01, places=tuple(places)
        )
        answer = answered(question) if number >= warming else None
        played = group.play(jobs)
        past.append(list(played.past))
        if answer is not None:
            place = place_of(played.whole, answer.whole.raw)
            places.append(place)
            yield Compared(answer, played.whole, place)
