"""Whose rounds they were, when each job ended, and how long crews were on their way. Pure, light.

A round belongs to the crew that ticked that it is at the stop; where nobody ticked, to the job
whose turn it was to be there, the first in the list.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from itertools import pairwise
from typing import NamedTuple

from firmware_py.forecast.rounds import Round
from firmware_py.forecast.words import JobPlan

HERE, LEFT = "here", "left"


class Mark(NamedTuple):
    """What a crew ticked: ``what`` is ``here`` or ``left``; ``entry`` the last entry by then.

    ``t_s`` is the session's time by the wall clock, which may have been stepped.
    """

    job: int
    stop: int
    what: str
    entry: int
    t_s: float


@dataclass(slots=True)
class Stop:
    """A stop, with the round that worked it."""

    job: int
    index: int
    spur: str
    cars: int
    round: Round | None = None
    left: bool = False
    here_s: float | None = None
    here_entry: int | None = None

    @property
    def ahead(self) -> bool:
        """Whether it is still to be worked."""
        return self.round is None and not self.left


@dataclass(slots=True)
class Evening:
    """A session's jobs as they went."""

    stops: dict[int, list[Stop]] = field(default_factory=dict)

    def ended_s(self, job: int) -> float | None:
        """When a job's last stop was at rest again; ``None`` if it was not worked to its end."""
        stops = self.stops.get(job, [])
        ends = [one.round.ended_s for one in stops if one.round is not None]
        if not stops or len(ends) < len(stops) or None in ends:
            return None
        return max(end for end in ends if end is not None)


def evening_of(jobs: Sequence[JobPlan], rounds: Sequence[Round], marks: Sequence[Mark]) -> Evening:
    """Give each round in which a train went in to a stop, oldest first."""
    evening = Evening(
        {
            job.id: [Stop(job.id, at, stop.spur, stop.cars) for at, stop in enumerate(job.stops)]
            for job in jobs
        }
    )
    waiting = sorted(marks, key=lambda mark: (mark.entry, mark.t_s))
    for one in sorted(rounds, key=lambda one: one.began_s):
        until = one.ended_id if one.ended_id is not None else 2**63
        while waiting and waiting[0].entry <= until:
            _mark(evening, waiting.pop(0))
        if one.worked:
            stop = _claimed(evening, one.spur) or _next(evening, one.spur)
            if stop is not None:
                stop.round = one
    for mark in waiting:
        _mark(evening, mark)
    return evening


def _mark(evening: Evening, mark: Mark) -> None:
    stops = evening.stops.get(mark.job, [])
    if not 0 <= mark.stop < len(stops):
        return
    stop = stops[mark.stop]
    if mark.what == LEFT:
        stop.left = stop.round is None
    elif mark.what == HERE and stop.here_entry is None:
        stop.here_s, stop.here_entry = mark.t_s, mark.entry


def _claimed(evening: Evening, spur: str) -> Stop | None:
    claims = [
        (stop.here_entry, stop.here_s or 0.0, stop)
        for stops in evening.stops.values()
        for stop in stops
        if stop.ahead and stop.spur == spur and stop.here_entry is not None
    ]
    return min(claims, key=lambda claim: claim[:2])[2] if claims else None


def _next(evening: Evening, spur: str) -> Stop | None:
    for stops in evening.stops.values():
        ahead = next((stop for stop in stops if stop.ahead), None)
        if ahead is not None and ahead.spur == spur:
            return ahead
    return None


class Way(NamedTuple):
    """How long a crew was on its way to a stop; ``first`` is that to its first of the evening."""

    seconds: float
    first: bool


def ways_of(evening: Evening, rounds: Sequence[Round]) -> dict[int, Way]:
    """How long the way to each round took, by its ``began_id``, where that can be told.

    A crew that found the spur taken came at a moment that only its own tick can tell.
    """
    found: dict[int, Way] = {}
    ends = sorted(
        end for job in evening.stops if (end := evening.ended_s(job)) is not None
    )  # Those who ended a job may have begun another one.
    firsts = [stops[0] for stops in evening.stops.values() if stops and stops[0].round]
    for stop in sorted(firsts, key=lambda stop: stop.round.began_s if stop.round else 0.0):
        assert stop.round is not None, "only worked ones are here"
        free = [end for end in ends if end <= stop.round.began_s]
        if free:
            ends.remove(free[0])
        _note(found, stop, free[0] if free else 0.0, rounds, first=not free)
    for stops in evening.stops.values():
        for before, stop in pairwise(stops):
            if before.round is not None and before.round.ended_s is not None:
                _note(found, stop, before.round.ended_s, rounds, first=False)
    return found


def _note(
    found: dict[int, Way], stop: Stop, since_s: float, rounds: Sequence[Round], *, first: bool
) -> None:
    one = stop.round
    if one is None or one.began_s < since_s:
        return
    others = [other for other in rounds if other is not one and other.spur == one.spur]
    taken = any(other.began_s < one.began_s and _until(other) > since_s for other in others)
    came_s = one.began_s
    if stop.here_entry is not None and stop.here_entry < one.began_id and stop.here_s is not None:
        came_s = min(max(stop.here_s, since_s), one.began_s)
    elif taken:
        return
    found[one.began_id] = Way(came_s - since_s, first)


def _until(one: Round) -> float:
    return float("inf") if one.ended_s is None else one.ended_s
