"""How much of the crews' time went by waiting: for a foreman, or for a brake test. Pure.

A crew's time runs from opening its first spur to closing its last. A round that belongs to no
job counts by itself, as a crew of its own.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass

from web.debrief.evening import Evening, Wait, WaitFor
from web.live.board import Round

Interval = tuple[int, int]


@dataclass(frozen=True, slots=True)
class Worked:
    """A round at a spur, and the job it belongs to; 0 where it belongs to none."""

    spur: str
    round: Round
    job: int = 0
    stop: int = 0


@dataclass(frozen=True, slots=True)
class Waiting:
    """Microseconds at work, and of these waiting; what overlaps counts once in ``waited_us``."""

    time_us: int = 0
    waited_us: int = 0
    foreman_us: int = 0
    brake_test_us: int = 0

    @property
    def percent(self) -> float | None:
        """The share of the time that went by waiting; ``None`` where nobody was at work."""
        return 100.0 * self.waited_us / self.time_us if self.time_us else None

    def __add__(self, other: Waiting) -> Waiting:
        return Waiting(
            self.time_us + other.time_us,
            self.waited_us + other.waited_us,
            self.foreman_us + other.foreman_us,
            self.brake_test_us + other.brake_test_us,
        )


def all_worked(evening: Evening, jobs: Mapping[int, Mapping[int, Iterable[Round]]]) -> list[Worked]:
    """Every round in the order they began. ``jobs`` are the rounds of each job's stops."""
    owners = {
        one.began_id: (job, stop)
        for job, stops in jobs.items()
        for stop, rounds in stops.items()
        for one in rounds
    }
    found = [
        Worked(spur, one, *owners.get(one.began_id, (0, 0)))
        for spur, at in evening.work.items()
        for one in at.rounds
    ]
    return sorted(found, key=lambda worked: (worked.round.began_us, worked.spur))


def waiting_of(worked: Sequence[Worked], evening: Evening) -> dict[int, Waiting]:
    """The waiting of each job, by its id; that of rounds without one is added up under 0."""
    found: dict[int, Waiting] = {}
    for job in sorted({one.job for one in worked}):
        mine = [one for one in worked if one.job == job]
        parts = [mine] if job else [[one] for one in mine]
        found[job] = sum((_waiting(part, evening) for part in parts), Waiting())
    return found


def overall(shares: Mapping[int, Waiting]) -> Waiting:
    """All crews together."""
    return sum(shares.values(), Waiting())


def waits_in(one: Worked, evening: Evening) -> list[Wait]:
    """The waits of a round."""
    began_us, ended_us = bounds(one, evening)
    return [
        wait
        for wait in evening.waits
        if wait.spur == one.spur and wait.began_us < ended_us and wait.ended_us > began_us
    ]


def bounds(one: Worked, evening: Evening) -> Interval:
    """When a round began, and when it ended or the evening did."""
    ended_us = evening.length_us if one.round.ended_us is None else one.round.ended_us
    return one.round.began_us, ended_us


def union_us(intervals: Iterable[Interval]) -> int:
    """How long any of the intervals lasted: what overlaps counts once."""
    total_us, until_us = 0, 0
    for began_us, ended_us in sorted(intervals):
        total_us += max(0, ended_us - max(began_us, until_us))
        until_us = max(until_us, ended_us)
    return total_us


def _waiting(mine: Sequence[Worked], evening: Evening) -> Waiting:
    spans = [bounds(one, evening) for one in mine]
    time_us = max(ended for _, ended in spans) - min(began for began, _ in spans)
    waits: dict[WaitFor, list[Interval]] = {WaitFor.FOREMAN: [], WaitFor.BRAKE_TEST: []}
    for one, (began_us, ended_us) in zip(mine, spans, strict=True):
        for wait in waits_in(one, evening):
            clipped = max(wait.began_us, began_us), min(wait.ended_us, ended_us)
            waits[wait.what].append(clipped)
    both = [*waits[WaitFor.FOREMAN], *waits[WaitFor.BRAKE_TEST]]
    foreman, brakes = (union_us(waits[what]) for what in WaitFor)
    return Waiting(time_us, union_us(both), foreman, brakes)
