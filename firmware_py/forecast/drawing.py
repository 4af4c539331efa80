"""A block of evenings drawn at once: how long each part of each job takes in each of them.

A job's numbers depend on the seed, the block and the job alone, so that two plans are compared on
the same evenings (common random numbers).
"""

from __future__ import annotations

import zlib
from dataclasses import dataclass
from enum import StrEnum

import numpy as np
from scipy import special

from firmware_py.core.pace import brake_test_seconds
from firmware_py.forecast.past import crew_of
from firmware_py.forecast.pert import Numbers
from firmware_py.forecast.sampling import (
    ANSWER_KEY,
    START_KEY,
    TRAVEL_KEY,
    UNSHARED,
    Key,
    Standing,
    standing_of,
    units,
)
from firmware_py.forecast.sources import Source, Sources, even
from firmware_py.forecast.words import WORK, JobPlan, Question, SpurPlan, StopPlan
from firmware_py.layout.model import ForemanKind

BLOCK = 250
"""Evenings drawn at once: memory stays the same however many there are."""


class Tie(StrEnum):
    """How the times of an evening hang together."""

    LEARNT = "learnt"
    NONE = "none"
    ALL = "all"


PARTS = 5
WAY, BEFORE, ANSWERED, AFTER, TESTED = range(PARTS)
"""The parts of a stop: the way there, up to asking, the foreman's answer, the rest, and how much
of that rest is brake test. A job's row is its first way and then these for each stop."""


@dataclass(frozen=True, slots=True)
class _Chance:
    """What a block's draws of one job are made with."""

    tie: Tie
    rng: np.random.Generator
    count: int
    together: Numbers
    shared: Numbers
    spread: float

    def of(self, source: Source, key: Key) -> Numbers:
        """Times from a source, of shape (count,)."""
        if self.tie is Tie.ALL:
            times = source.at(self.together)
        else:
            times = source.at(self.rng.random(self.count))
        if key in UNSHARED:
            return times
        if self.tie is Tie.NONE:
            each = self.rng.standard_normal(self.count)
            return times * np.exp(self.spread * each - self.spread**2 / 2)
        return times * self.shared


class Drawing:
    """Draws blocks of a question's evenings; ``scale`` is the dial's."""

    def __init__(self, question: Question, sources: Sources, scale: float) -> None:
        self._question = question
        self._sources = sources
        self._scale = scale
        self._spurs = {spur.id: spur for spur in question.spurs}
        self._tests = tests_per_round(question)

    def block(self, job: JobPlan, number: int, tie: Tie) -> Numbers:
        """A job's times in block ``number``: shape (BLOCK, 1 + PARTS * stops), seconds."""
        chance = self._chance(job, number, tie)
        crew = crew_of(job)
        known = self._question.rounds_of_crews.get(crew, 0) if crew else None
        standing = standing_of(known)
        made = np.zeros((BLOCK, 1 + PARTS * len(job.stops)))
        made[:, 0] = chance.of(self._sources.of(START_KEY, standing), START_KEY)
        for index, stop in enumerate(job.stops):
            at = 1 + PARTS * index
            self._stop(made[:, at : at + PARTS], job, stop, standing, chance)
        return made

    def _chance(self, job: JobPlan, number: int, tie: Tie) -> _Chance:
        seed, effects = self._question.seed, self._sources.effects
        evening = np.random.default_rng([seed, number])
        crew = np.random.default_rng([seed, number, 1, zlib.crc32(crew_of(job).encode())])
        own = np.random.default_rng([seed, number, 2, job.id])
        together = evening.random(BLOCK)
        if tie is Tie.ALL:
            logs = effects.total * special.ndtri(np.clip(together, 1e-9, 1 - 1e-9))
        else:
            of_crew = (crew if crew_of(job) else own).standard_normal(BLOCK)
            logs = effects.evening * evening.standard_normal(BLOCK) + effects.crew * of_crew
        shared = np.exp(logs - effects.total**2 / 2)
        return _Chance(tie, own, BLOCK, together, shared, effects.total)

    def _stop(
        self, row: Numbers, job: JobPlan, stop: StopPlan, standing: Standing, chance: _Chance
    ) -> None:
        spur = self._spurs[stop.spur]
        row[:, WAY] = chance.of(self._sources.of(TRAVEL_KEY, standing), TRAVEL_KEY)
        part = BEFORE if spur.foreman is not ForemanKind.NONE else AFTER
        for step in spur.steps:
            key = Key(spur.id, step.phase, step.step)
            if (step.phase, step.kind) == ("opening", "foreman"):
                row[:, ANSWERED] = self._answer(spur, chance)
                part = AFTER
                continue
            times = chance.of(self._sources.of(key, standing), key)
            is_work = (step.phase, step.step) == ("working", WORK)
            row[:, part] += times * units(stop.cars) if is_work else times
        row[:, TESTED] = self._tested(job, stop, chance)
        row[:, AFTER] += row[:, TESTED]

    def _answer(self, spur: SpurPlan, chance: _Chance) -> Numbers:
        if spur.foreman is ForemanKind.AUTO:
            return chance.of(even(*spur.answer_s), ANSWER_KEY) * self._scale
        return chance.of(self._sources.of(ANSWER_KEY), ANSWER_KEY)

    def _tested(self, job: JobPlan, stop: StopPlan, chance: _Chance) -> Numbers:
        ratio = self._question.clock_ratio / self._scale
        often = self._tests.get(stop.spur, 1.0)
        pick = chance.together if chance.tie is Tie.ALL else chance.rng.random(chance.count)
        count: Numbers = np.floor(often) + (pick < often % 1.0)
        return count * brake_test_seconds(max(1, job.train), ratio)


def tests_per_round(question: Question) -> dict[str, float]:
    """How many brake tests a round at each spur has; one, until the log can tell."""
    rounds: dict[str, list[int]] = {}
    for one in question.past:
        rounds.setdefault(one.spur, []).append(one.tests)
    return {spur: (sum(tests) + 1.0) / (len(tests) + 1.0) for spur, tests in rounds.items()}
