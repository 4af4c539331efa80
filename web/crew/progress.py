"""Where each job stands, from its stops, the crews' ticks and the rounds of the work. Pure.

A round is one time that a spur was opened until it was at rest again. It belongs to one stop of
one job at most: to the crew that ticked that it is here, the first of them where there are
several. A round that ended with no train in it leaves the crew where it is. While nobody has
ticked that, a spur that is open belongs to a job whose turn it is to be there: to the one whose
crew was heard of last, else to the first. That is a guess, which ``guessed`` says, and which any
crew's tick overrules.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field
from enum import StrEnum
from functools import partial
from typing import NamedTuple

from firmware_py.logbook.screen.jobs import Job
from firmware_py.logbook.screen.ticks import Step, Tick
from web.live.board import Board, Round, Work


class StopState(StrEnum):
    """How a stop stands: ``left`` is gone from without having been worked to its end."""

    AHEAD = "ahead"
    CURRENT = "current"
    DONE = "done"
    LEFT = "left"


class Claim(NamedTuple):
    """A stop of a job; ``stop`` counts from 0."""

    job_id: int
    stop: int


@dataclass(frozen=True, slots=True)
class StopProgress:
    """One stop. ``rounds`` are those that belong to it, the latest of them last.

    ``here`` says that the crew is there, by its tick or by the guess.
    """

    spur: str
    state: StopState
    here: bool = False
    guessed: bool = False
    rounds: tuple[Round, ...] = ()

    @property
    def running(self) -> Round | None:
        """The round that goes on now."""
        last = self.rounds[-1] if self.rounds else None
        return last if last is not None and last.ended_id is None else None


@dataclass(frozen=True, slots=True)
class Progress:
    """One job. ``current`` is the stop it is at or goes to, ``None`` once all are behind it.

    ``waits_for`` is the job that has the current stop's spur; ``may_claim`` says that this is
    only a guess, so that this crew may say that it is itself at work there.
    """

    stops: tuple[StopProgress, ...]
    current: int | None
    waits_for: int | None = None
    may_claim: bool = False

    @property
    def stop(self) -> StopProgress | None:
        """The current stop."""
        return None if self.current is None else self.stops[self.current]


@dataclass(slots=True)
class _Spur:
    """What the claims at one spur came to, after every event so far."""

    queue: list[Claim] = field(default_factory=list)
    owner: Claim | None = None
    running: Round | None = None
    rounds: dict[Claim, list[Round]] = field(default_factory=dict)


class _Event(NamedTuple):
    """Something that happened; ``when`` is the entry's id, then what orders events after it."""

    when: tuple[int, int, int]
    happen: Callable[[], None]


@dataclass(slots=True)
class _Ledger:
    spurs: dict[str, _Spur] = field(default_factory=dict)
    done: set[Claim] = field(default_factory=set)
    left: set[Claim] = field(default_factory=set)


def progress_of(
    jobs: Sequence[Job], ticks: Sequence[Tick], work: Mapping[str, Work]
) -> dict[int, Progress]:
    """Where every job stands, by its id.

    ``jobs`` may hold dropped ones, which keep the rounds they worked and hold up nobody.
    """
    ledger = _ledger(jobs, ticks, work)
    gone = {job.id for job in jobs if job.dropped}
    for spur in ledger.spurs.values():
        spur.queue = [claim for claim in spur.queue if claim.job_id not in gone]
        if spur.owner is not None and spur.owner.job_id in gone:
            _hand_over(spur)
    current = {job.id: _current(job, ledger) for job in jobs}
    guesses = _guesses(_heard_last(jobs, ticks), current, ledger)
    return {job.id: _progress(job, current, ledger, guesses) for job in jobs}


def rounds_of_job(
    job_id: int, jobs: Sequence[Job], ticks: Sequence[Tick], board: Board
) -> dict[int, tuple[Round, ...]]:
    """The rounds that belong to a job, by the stop's index; a stop with none is left out."""
    found = progress_of(jobs, ticks, board.work).get(job_id)
    stops = enumerate(found.stops if found else ())
    return {index: stop.rounds for index, stop in stops if stop.rounds}


def worked_guesses(progress: Mapping[int, Progress]) -> list[tuple[Claim, Round]]:
    """The guesses in whose rounds a train has gone in: worth a tick, so that they stay known."""
    return [
        (Claim(job_id, index), stop.running)
        for job_id, one in progress.items()
        for index, stop in enumerate(one.stops)
        if stop.guessed and stop.running is not None and stop.running.worked
    ]


def _ledger(jobs: Sequence[Job], ticks: Sequence[Tick], work: Mapping[str, Work]) -> _Ledger:
    """Take the rounds' beginnings and ends and the ticks in the order in which they happened.

    A tick comes after the entry it names: that one had been read when it was made.
    """
    spur_of = {
        Claim(job.id, index): stop.spur for job in jobs for index, stop in enumerate(job.stops)
    }
    ledger = _Ledger({name: _Spur() for name in {*spur_of.values(), *work}})
    events: list[_Event] = []
    for name, one in _rounds(work):
        spur = ledger.spurs[name]
        events.append(_Event((one.began_id, 0, 0), partial(_begin, spur, one)))
        if one.ended_id is not None:
            events.append(_Event((one.ended_id, 0, 0), partial(_end, ledger, spur, one)))
    for tick in ticks:
        stop = spur_of.get(Claim(tick.job_id, tick.stop))
        if stop is not None:
            when = (tick.entry_id, 1, tick.wall_us)
            events.append(_Event(when, partial(_tick, ledger, ledger.spurs[stop], tick)))
    for event in sorted(events, key=lambda event: event.when):
        event.happen()
    return ledger


def _rounds(work: Mapping[str, Work]) -> list[tuple[str, Round]]:
    return [(spur, one) for spur, at in work.items() for one in at.rounds]


def _begin(spur: _Spur, one: Round) -> None:
    spur.running = one
    spur.owner = spur.queue[0] if spur.queue else None
    _note(spur)


def _end(ledger: _Ledger, spur: _Spur, one: Round) -> None:
    owner, spur.owner, spur.running = spur.owner, None, None
    if owner is not None and one.worked:
        ledger.done.add(owner)
        spur.queue.remove(owner)


def _tick(ledger: _Ledger, spur: _Spur, tick: Tick) -> None:
    claim = Claim(tick.job_id, tick.stop)
    if claim in ledger.done or claim in ledger.left:
        return
    if tick.step is Step.LEFT:
        ledger.left.add(claim)
        if claim in spur.queue:
            spur.queue.remove(claim)
        if spur.owner == claim:
            _hand_over(spur)
    elif tick.step is Step.HERE and claim not in spur.queue:
        spur.queue.append(claim)
        if spur.running is not None and spur.owner is None:
            _hand_over(spur)


def _hand_over(spur: _Spur) -> None:
    """Whoever waits takes over what goes on; where nobody does, it is nobody's."""
    spur.owner = spur.queue[0] if spur.queue else None
    _note(spur)


def _note(spur: _Spur) -> None:
    if spur.owner is not None and spur.running is not None:
        spur.rounds.setdefault(spur.owner, []).append(spur.running)


def _current(job: Job, ledger: _Ledger) -> int | None:
    behind = ledger.done | ledger.left
    ahead = (index for index in range(len(job.stops)) if Claim(job.id, index) not in behind)
    return next(ahead, None)


def _heard_last(jobs: Sequence[Job], ticks: Sequence[Tick]) -> list[Job]:
    """The jobs, those first whose crews have ticked anything, the latest of them foremost."""
    last: dict[int, tuple[int, int]] = {}
    for tick in ticks:
        when = (tick.entry_id, tick.wall_us)
        last[tick.job_id] = max(when, last.get(tick.job_id, when))
    return sorted(jobs, key=lambda job: last.get(job.id, (-1, -1)), reverse=True)


def _guesses(
    jobs: Sequence[Job], current: Mapping[int, int | None], ledger: _Ledger
) -> dict[str, Claim]:
    """The job that each open spur of nobody's is taken to be worked by, by spur."""
    found: dict[str, Claim] = {}
    for job in jobs:
        index = current[job.id]
        if job.dropped or index is None:
            continue
        spur = job.stops[index].spur
        at = ledger.spurs[spur]
        if at.running is not None and at.owner is None and not at.queue:
            found.setdefault(spur, Claim(job.id, index))
    return found


def _progress(
    job: Job,
    current: Mapping[int, int | None],
    ledger: _Ledger,
    guesses: Mapping[str, Claim],
) -> Progress:
    at = current[job.id]
    stops = tuple(
        _stop(Claim(job.id, index), stop.spur, ledger, guesses, is_current=index == at)
        for index, stop in enumerate(job.stops)
    )
    if at is None:
        return Progress(stops, None)
    name = job.stops[at].spur
    spur = ledger.spurs[name]
    holder = spur.owner or (spur.queue[0] if spur.queue else guesses.get(name))
    waits_for = holder.job_id if holder is not None and holder != Claim(job.id, at) else None
    waits_for = None if waits_for == job.id else waits_for
    guessed = waits_for is not None and name in guesses
    return Progress(stops, at, waits_for, may_claim=guessed)


def _stop(
    claim: Claim,
    name: str,
    ledger: _Ledger,
    guesses: Mapping[str, Claim],
    *,
    is_current: bool,
) -> StopProgress:
    spur = ledger.spurs[name]
    rounds = tuple(spur.rounds.get(claim, ()))
    guessed = guesses.get(name) == claim
    if guessed and spur.running is not None:
        rounds = (*rounds, spur.running)
    if claim in ledger.done:
        state = StopState.DONE
    elif claim in ledger.left:
        state = StopState.LEFT
    else:
        state = StopState.CURRENT if is_current else StopState.AHEAD
    here = guessed or claim in spur.queue
    return StopProgress(name, state, here, guessed, rounds)
