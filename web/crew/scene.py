"""What a job's page is drawn from, and what can be read off it at once. Pure."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any

from firmware_py.layout.model import (
    FOREMAN,
    Chock,
    Contact,
    Derail,
    Flag,
    Gate,
    Key,
    Lock,
    Spur,
    Switch,
    Trap,
)
from firmware_py.logbook.records import ByHandRecord, ViolationRecord
from firmware_py.logbook.screen.jobs import Job, JobStop
from firmware_py.logbook.screen.ticks import Step, Tick
from web.crew.progress import Progress, StopProgress
from web.live.board import Board, Round, Work
from web.live.passes import At
from web.live.plan import Plan, Row
from web.live.senses import Settled


@dataclass(frozen=True, slots=True)
class Evening:
    """What all jobs' pages share. ``own`` are the crew's own steps that the host wants ticked.

    ``head`` is the board's: ``live``, ``opened``, ``engine_says`` and so on, and ``silent`` says
    what stands there instead at rows whose box is not heard. What ``settled``
    does not hold, or holds as ``None``, is unknown; nothing is known while it is not live.
    """

    board: Board
    plan: Plan
    settled: Settled
    violations: Sequence[ViolationRecord]
    jobs: Mapping[int, Job]
    ticks: Sequence[Tick]
    progress: Mapping[int, Progress]
    own: frozenset[Step]
    head: Mapping[str, Any]
    by_hand: Mapping[str, ByHandRecord]
    toward: Mapping[At, str] = field(default_factory=dict)
    silent: Mapping[str, str] = field(default_factory=dict)

    @property
    def live(self) -> bool:
        """Whether what is shown is proven."""
        return bool(self.head["live"])

    def is_made(self, contact: Contact | None) -> bool:
        """Whether a contact is known to be made."""
        return contact is not None and self.settled.get(contact.name) is True

    def is_open(self, contact: Contact | None) -> bool:
        """Whether a contact is known to be open."""
        return contact is not None and self.settled.get(contact.name) is False


@dataclass(frozen=True, slots=True)
class Place:
    """The stop that a job is at or goes to, with everything that stands there."""

    index: int
    stop: JobStop
    progress: StopProgress
    row: Row
    spur: Spur
    work: Work

    @property
    def switch(self) -> Switch:
        """The spur's switch."""
        return self.row.switch

    @property
    def phase(self) -> str:
        """The spur's phase."""
        return self.work.phase

    @property
    def round(self) -> Round | None:
        """The round of this crew's that goes on."""
        return self.progress.running


def place_of(evening: Evening, job: Job) -> Place | None:
    """Where a job is; ``None`` when it is over, or at a spur that this layout does not have."""
    at = evening.progress[job.id].current
    if at is None:
        return None
    stop = job.stops[at]
    row = evening.plan.rows.get(stop.spur)
    if row is None or row.spur is None:
        return None
    work = evening.board.work.get(stop.spur, Work())
    return Place(at, stop, evening.progress[job.id].stops[at], row, row.spur, work)


def is_off(step: str, place: Place, evening: Evening) -> bool:
    """Whether a protection is known to be off; what is not known is on."""
    match evening.plan.things.get(step):
        case None:
            return step == FOREMAN and place.work.foreman == "released"
        case Flag(rack=rack) | Chock(rack=rack):
            return evening.is_made(rack)
        case Gate(shut=shut):
            return evening.is_open(shut)
        case Derail(on=on):
            return evening.is_open(on)
        case Switch() as switch:
            locked = switch.lock is Lock.PADLOCK and not evening.is_open(switch.hasp)
            over = evening.is_made(switch.reverse) and evening.is_open(switch.normal)
            return over and not locked
        case _:
            return False


def is_back(step: str, place: Place, evening: Evening) -> bool:
    """Whether a protection is known to protect again; what is not known does not."""
    match evening.plan.things.get(step):
        case None:
            return step == FOREMAN and place.work.foreman != "released"
        case Flag(rack=rack):
            return evening.is_open(rack)
        case Chock(rack=rack):
            return evening.is_open(rack) or evening.is_open(place.spur.detector)
        case Gate(shut=home, hasp=hasp) | Derail(on=home, hasp=hasp):
            return evening.is_made(home) and (hasp is None or evening.is_made(hasp))
        case Switch() as switch:
            return evening.board.stages.get(switch.id) == "secured"
        case _:
            return False


def traps_at(row: Row, evening: Evening) -> dict[str, Trap]:
    """The speed traps that read a detector of a spur, of its switch or of what protects it."""
    mine = {row.switch.id, row.id, *(thing.id for thing in row.protections)}
    ends = {f"{thing}.detector" for thing in mine}
    traps = evening.plan.layout.traps
    return {trap.id: trap for trap in traps if {trap.first, trap.second} & ends}


def keys_at(plan: Plan, spur: str) -> tuple[Key, ...]:
    """The keys of a spur's switch and gates, each once."""
    row = plan.rows.get(spur)
    if row is None:
        return ()
    owners = (row.switch, *row.protections)
    ids = dict.fromkeys(getattr(owner, "key", None) for owner in owners)
    found = (plan.things.get(key or "") for key in ids)
    return tuple(thing for thing in found if isinstance(thing, Key))


def keys_of(plan: Plan, job: Job) -> tuple[Key, ...]:
    """The keys that are issued to a job and those that its stops need, each once."""
    issued = (plan.things.get(key) for key in job.keys)
    needed = (key for stop in job.stops for key in keys_at(plan, stop.spur))
    all_of_them = (*(thing for thing in issued if isinstance(thing, Key)), *needed)
    return tuple(dict.fromkeys(all_of_them))


def user_of(key: Key, job: Job, evening: Evening) -> Job | None:
    """Another job whose crew may well have a key: it is at a stop that needs it."""
    for other in evening.jobs.values():
        stop = evening.progress[other.id].stop
        if other.id == job.id or other.dropped or stop is None or not stop.here:
            continue
        if key in keys_at(evening.plan, stop.spur):
            return other
    return None


def called(job: Job) -> str:
    """What other crews call a job's crew."""
    return job.crew or f"the crew of {job.name}"
