"""The restore check: what is still out, and where, before a session is closed. Pure.

A thing is home while it is *back* (rulebook sections 4 and 6): a switch locked and normal, a gate
shut and locked, a derail on the rail, a flag displayed, a chock set or its spur clear, a foreman
not released, a key on its hook. What is not known is listed as such and never counts as home.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import asdict, dataclass
from enum import StrEnum

from firmware_py.layout.model import Key
from firmware_py.logbook.records import StandingRecord, ViolationRecord
from firmware_py.logbook.screen.jobs import Job
from web.debrief.home import Finding, State, protection_at, spur_at, switch_at
from web.live.board import Board, Work
from web.live.faults import open_faults
from web.live.plan import Plan, Row
from web.live.reasons import reason_for
from web.live.senses import Settled

KEYS = "keys"
ELSEWHERE = "elsewhere"


class Kind(StrEnum):
    """What a finding is about, for its sign on the page."""

    SWITCH = "switch"
    SPUR = "spur"
    GATE = "gate"
    DERAIL = "derail"
    FLAG = "flag"
    CHOCK = "chock"
    FOREMAN = "foreman"
    KEY = "key"
    VIOLATION = "violation"
    FAULT = "fault"


@dataclass(frozen=True, slots=True)
class Out:
    """Something that is not home: ``says`` how it stands, ``mend`` what would put it right.

    ``state`` is ``out`` or ``unknown``; ``thing`` is an id, or a violation's number.
    """

    kind: Kind
    thing: str
    name: str
    state: State
    says: str
    mend: str


@dataclass(frozen=True, slots=True)
class Place:
    """What is out at one stand, at the key board, or elsewhere; ``id`` is the row's."""

    id: str
    name: str
    items: tuple[Out, ...]


@dataclass(frozen=True, slots=True)
class Check:
    """The whole check. ``clear`` says that everything is home, and known to be.

    ``places`` are only those where something is out; ``looked_at`` are the names of all.
    """

    clear: bool
    live: bool
    says: str
    out: int
    unknown: int
    places: tuple[Place, ...]
    looked_at: tuple[str, ...]

    def as_json(self) -> dict[str, object]:
        """The same for the JSON API."""
        return asdict(self)


@dataclass(frozen=True, slots=True)
class Stood:
    """What the check looks at. ``settled`` is empty while nothing is proven."""

    plan: Plan
    board: Board
    settled: Settled
    violations: Sequence[ViolationRecord]
    jobs: Sequence[Job]
    live: bool


def restore_check(  # noqa: PLR0913 - each is something of the session that is followed
    plan: Plan,
    board: Board,
    standing: Mapping[str, StandingRecord],
    violations: Sequence[ViolationRecord],
    jobs: Sequence[Job] = (),
    *,
    live: bool,
) -> Check:
    """Look at the whole layout. With ``live`` false nothing is known of any of it."""
    settled = {name: one.settled for name, one in standing.items()} if live else {}
    unacknowledged = [one for one in violations if one.acknowledged_t_us is None]
    stood = Stood(plan, board, settled, unacknowledged, jobs, live)
    places = [place for place in _places(stood) if place.items]
    items = [item for place in places for item in place.items]
    out = sum(item.state is State.OUT for item in items)
    unknown = len(items) - out
    names = (
        *(row.name for row in plan.rows.values()),
        *(["Key board"] if plan.layout.keys else []),
    )
    says = _says(out, unknown, live=live)
    return Check(live and not items, live, says, out, unknown, tuple(places), names)


def _says(out: int, unknown: int, *, live: bool) -> str:
    if not live:
        return "The engine does not answer, so nothing is known. Treat every switch as red."
    if not out and not unknown:
        return "Everything is home."
    parts = [f"{out} still out"] if out else []
    if unknown:
        parts.append(f"{unknown} not known")
    return ", ".join(parts) + "."


def _places(stood: Stood) -> Iterator[Place]:
    switches: set[str] = set()
    for row in stood.plan.rows.values():
        again = row.switch.id in switches  # Two spurs may hang on one switch: it is told once.
        switches.add(row.switch.id)
        yield Place(row.id, row.name, tuple(_at(row, stood, again=again)))
    yield Place(KEYS, "Key board", tuple(_keys(stood)))
    yield Place(ELSEWHERE, "Elsewhere", tuple(_elsewhere(stood)))


def _at(row: Row, stood: Stood, *, again: bool) -> Iterator[Out]:
    settled, spur = stood.settled, row.spur
    if not again:
        yield from _found(
            Kind.SWITCH, row.switch.id, row.switch.name, switch_at(row.switch, settled)
        )
    if spur is not None:
        yield from _found(Kind.SPUR, spur.id, spur.name, spur_at(spur, settled))
        yield from _foreman(row, stood)
        for thing in row.protections:
            kind = Kind(str(stood.plan.kind(thing.id)))
            found = protection_at(thing, settled, spur.detector)
            yield from _found(kind, thing.id, thing.name, found)
    yield from _violations(row.id, stood)
    yield from _faults(row.id, stood)


def _found(kind: Kind, thing: str, name: str, found: Sequence[Finding]) -> Iterator[Out]:
    for one in found:
        yield Out(kind, thing, name, one.state, one.says, one.mend)


def _foreman(row: Row, stood: Stood) -> Iterator[Out]:
    spur = row.spur
    if spur is None or not stood.live:
        return
    work = stood.board.work.get(spur.id, Work())
    said = {
        "released": ("released, and not handed back", "Hand the spur back to him"),
        "asked": ("asked, and a crew waits for his answer", "Answer the crew"),
        "held": ("said not yet, and a crew waits", "Answer the crew"),
    }
    if work.foreman in said:
        says, mend = said[work.foreman]
        yield Out(Kind.FOREMAN, spur.id, "Foreman", State.OUT, says, mend)
    if work.test == "running":
        says, mend = "its brake test still runs", "Wait for its end"
        yield Out(Kind.SPUR, spur.id, spur.name, State.OUT, says, mend)


def _violations(row: str, stood: Stood) -> Iterator[Out]:
    for one in reversed(stood.violations):
        if _row_of(one, stood.plan) == row:
            title = reason_for(one.rule).title
            says = f"{title}: {stood.plan.name(one.at)}, not acknowledged"
            name = f"Violation {one.number}"
            yield Out(Kind.VIOLATION, str(one.number), name, State.OUT, says, "See it on the board")


def _row_of(violation: ViolationRecord, plan: Plan) -> str | None:
    rows = plan.rows_of(violation.spur or "") or plan.rows_of(violation.at)
    return next(iter(rows), None)


def _faults(row: str | None, stood: Stood) -> Iterator[Out]:
    for fault in open_faults(stood.board, stood.plan) if stood.live else ():
        known = stood.settled.get(fault["at"], False) is not None
        if fault["row"] == row and (known or fault["fault"] != "lost"):
            name, says = str(fault["title"]), str(fault["says"])
            yield Out(Kind.FAULT, str(fault["at"]), name, State.UNKNOWN, says, "Mend the wiring")


def _keys(stood: Stood) -> Iterator[Out]:
    for key in stood.plan.layout.keys:
        home = stood.settled.get(key.hook.name)
        if home:
            continue
        fits = [stood.plan.rows[row].name for row in stood.plan.rows_of(key.id)]
        opens = f"; it fits {_and(fits)}" if fits else ""
        if home is None:
            says = f"not known to be on its hook{opens}"
            yield Out(Kind.KEY, key.id, key.name, State.UNKNOWN, says, "Look at its hook")
        else:
            says = f"off its hook{opens}{_issued(key, stood.jobs)}"
            yield Out(Kind.KEY, key.id, key.name, State.OUT, says, "Hang it on its hook")


def _issued(key: Key, jobs: Sequence[Job]) -> str:
    names = [job.crew or job.name for job in jobs if key.id in job.keys and not job.dropped]
    return f"; on the sheet of {' or '.join(names)}" if names else ""


def _elsewhere(stood: Stood) -> Iterator[Out]:
    for one in reversed(stood.violations):
        if _row_of(one, stood.plan) is None:
            says = f"{reason_for(one.rule).title}: {stood.plan.name(one.at)}, not acknowledged"
            name = f"Violation {one.number}"
            yield Out(Kind.VIOLATION, str(one.number), name, State.OUT, says, "See it on the board")
    yield from _faults(None, stood)


def _and(names: Sequence[str]) -> str:
    *most, last = names
    return f"{', '.join(most)} and {last}" if most else last
