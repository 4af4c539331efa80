"""The log's times as samples: of which step, by which crew on which evening, how new it was."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from enum import StrEnum
from typing import NamedTuple

from firmware_py.forecast.words import ANSWER, START, TRAVEL, WORK, Past, SpurPlan

SEASONED_FROM = 10
"""Rounds on this layout after which a crew is no longer new to it (common sense, no source)."""


class Standing(StrEnum):
    """How well a crew knows the layout."""

    NEW = "new"
    SEASONED = "seasoned"
    UNKNOWN = "unknown"


class Key(NamedTuple):
    """Which time it is; ``spur`` and ``phase`` are empty for those that belong to no spur."""

    spur: str
    phase: str
    step: str


START_KEY, TRAVEL_KEY, ANSWER_KEY = (Key("", "", name) for name in (START, TRAVEL, ANSWER))
UNSHARED = frozenset({START_KEY, ANSWER_KEY})
"""Times that a crew's own haste or slowness does not change."""


@dataclass(frozen=True, slots=True)
class Sample:
    """A measured time. ``group`` is the job, or the round where there is none."""

    key: Key
    seconds: float
    standing: Standing
    session: int
    group: tuple[int, int]


def standing_of(rounds_before: int | None) -> Standing:
    """How well a crew knows the layout that has worked so many rounds on it."""
    if rounds_before is None:
        return Standing.UNKNOWN
    return Standing.SEASONED if rounds_before >= SEASONED_FROM else Standing.NEW


def samples_of(past: Iterable[Past], spurs: Sequence[SpurPlan]) -> list[Sample]:
    """Every usable time of earlier rounds. A step that a round passed over took no time."""
    known = {spur.id: spur for spur in spurs}
    found: list[Sample] = []
    for index, one in enumerate(past):
        spur = known.get(one.spur)
        if spur is not None:
            found += _of_round(one, spur, (one.job, 0) if one.job else (0, index + 1))
    return found


def _of_round(one: Past, spur: SpurPlan, group: tuple[int, int]) -> list[Sample]:
    standing = standing_of(one.rounds_before)
    times: list[tuple[Key, float]] = []
    for step in spur.steps:
        seconds = one.steps.get(f"{step.phase}/{step.step}", 0.0)
        if step.step == WORK and step.phase == "working":
            if one.cars is None:
                continue  # Nobody knows how many cars were moved in that time.
            seconds /= units(one.cars)
        elif (step.phase, step.kind) == ("opening", "foreman"):
            continue  # His answer is told apart below; an automatic one's is the layout's own.
        times.append((Key(spur.id, step.phase, step.step), seconds))
    elsewhere: Mapping[Key, float | None] = {
        START_KEY: one.start_s,
        TRAVEL_KEY: one.travel_s,
        ANSWER_KEY: one.answer_s,
    }
    times += [(key, seconds) for key, seconds in elsewhere.items() if seconds is not None]
    return [Sample(key, max(0.0, t), standing, one.session, group) for key, t in times]


def units(cars: int) -> int:
    """In how many parts a stop's work is told: one for each car, and one for the going about."""
    return 1 + max(0, cars)
