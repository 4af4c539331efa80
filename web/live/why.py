"""Why a lamp is not green, in words that a guest understands who has never seen a layout.

The reasons are those that the lamp itself is worked out from: the switch's stage, the faults of
its wiring, and the violations that nobody has acknowledged at the stand.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from typing import NamedTuple

from firmware_py.layout.model import Lock, Role
from firmware_py.logbook.records import ViolationRecord
from web.live.board import Board
from web.live.plan import Plan, Row
from web.live.reasons import reason_for

_CONTACTS = {
    Role.HASP: "lock contact",
    Role.NORMAL: "points contact",
    Role.REVERSE: "points contact",
    Role.DETECTOR: "track detector",
    Role.BUTTON: "button",
}
_FAULTS = {
    "lost": "{contact} lost; look at its cable",
    "chattering": "{contact} chatters; look for a loose wire or a dirty contact",
}
_BOTH_WAYS = "points read both ways at once; look for a stuck or bridged contact"
_STAGES = {
    "unlocked": "unlocked; relock to get green",
    "lined": "lined for the spur; line it for the main and lock it to get green",
    "in-use": "a train is using it; once clear, line it for the main and lock it to get green",
    "restored": "lined for the main but not locked; lock it to get green",
    "irregular": "locked, but not lined for the main; unlock it and put the points right",
}
_UNPROVEN = "locked, but nothing proves that the points lie for the main"
_WITHOUT_LOCK = {
    "lined": "lined for the spur; line it for the main to get green",
    "in-use": "a train is using it; once clear, line it for the main to get green",
}
_POINTS = frozenset({Role.NORMAL.value, Role.REVERSE.value})
NOT_LIVE = "the engine does not guard, so nothing is proven; treat as red"
NOT_KNOWN = "nothing is known of this switch yet; treat as red"
NO_GREEN = "secured, but this stand has no green lamp to say so"
CHANGING = "it is changing this moment; look again"


class Why(NamedTuple):
    """What there is to know about a row's lamp."""

    board: Board
    plan: Plan
    open_ones: Sequence[ViolationRecord]
    live: bool


def why_not_green(row: Row, lamp: str, known: Why) -> list[str]:
    """Why the lamp is not green, the weightiest reason first; empty where there is none to give.

    ``lamp`` is the colour that the stand shows: green, red, dark, or none where it has no lamps.
    """
    if lamp == "green":
        return []
    if not known.live:
        return [NOT_LIVE]
    found = [*_violations(row, known), *_faults(row, known.board), *_stage(row, known.board)]
    if found or lamp == "none":
        return found
    return [NO_GREEN if row.switch.lamps.green is None else CHANGING]


def _violations(row: Row, known: Why) -> Iterable[str]:
    stand = {one for each in known.plan.rows_of(row.switch.id) for one in _things(each, known.plan)}
    here = sorted(
        (one for one in known.open_ones if one.at in stand or one.spur in stand),
        key=lambda one: one.number,
    )
    if len(here) == 1:
        title = reason_for(here[0].rule).title.lower()
        yield f"violation {here[0].number} waits for the host ({title})"
    elif here:
        numbers = [str(one.number) for one in here]
        if len(numbers) > 4:
            numbers = [*numbers[:3], f"{len(numbers) - 3} more"]
        yield f"violations {', '.join(numbers[:-1])} and {numbers[-1]} wait for the host"


def _things(row: str, plan: Plan) -> tuple[str, ...]:
    """What counts at the stand: the switch, its spurs and their protections, but no keys."""
    known = plan.rows[row]
    spur = (known.spur.id,) if known.spur else ()
    return (known.switch.id, *spur, *(thing.id for thing in known.protections))


def _faults(row: Row, board: Board) -> Iterable[str]:
    told = set()
    for fault, at in board.faults:
        thing, _, role = at.partition(".")
        if thing != row.switch.id:
            continue
        said = _fault(fault, role)
        if said not in told:
            told.add(said)
            yield said


def _fault(fault: str, role: str) -> str:
    if fault == "points-disputed":
        return _BOTH_WAYS
    contact = _CONTACTS.get(Role(role), role) if role in set(Role) else role or "contact"
    template = _FAULTS.get(fault, "{contact}: " + fault.replace("-", " "))
    return template.format(contact=contact)


def _stage(row: Row, board: Board) -> Iterable[str]:
    stage = board.stages.get(row.switch.id, "")
    if stage == "secured":
        return
    if stage == "irregular" and _points_unsure(row, board):
        yield _UNPROVEN
    elif row.switch.lock is Lock.NONE and stage in _WITHOUT_LOCK:
        yield _WITHOUT_LOCK[stage]
    else:
        yield _STAGES.get(stage, NOT_KNOWN)


def _points_unsure(row: Row, board: Board) -> bool:
    mine = [at.partition(".") for _, at in board.faults]
    return any(thing == row.switch.id and (role in _POINTS or not role) for thing, _, role in mine)
