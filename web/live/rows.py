"""One row of the board as JSON-ready data: everything is in words as well as in codes."""

from __future__ import annotations

from typing import Any, NamedTuple

from firmware_py.layout.model import FOREMAN, ForemanKind, Key, Lock
from web.live.board import Board, Work
from web.live.crews import AtWork, crews_at
from web.live.lamps import BY_HAND, crew_lamp, stand
from web.live.plan import Plan, Row, short_name
from web.live.senses import UNKNOWN, Settled, sense
from web.live.steps import COMMANDS, fitting_commands, next_step
from web.live.why import Why, why_not_green

STAGES = {
    "secured": ("Secured", "Locked, lined for the main"),
    "unlocked": ("Unlocked", "Unlocked, still lined for the main"),
    "lined": ("Lined", "Lined for the spur"),
    "in-use": ("In use", "A train is using it"),
    "restored": ("Restored", "Lined for the main, not locked yet"),
}
IRREGULAR = "Locked, but not lined for the main"
HAND = "a lamp here is worked by hand from the bench; treat as red until that is over"
_FOREMAN = {
    "not-asked": ("on", "not asked"),
    "asked": ("on", "asked"),
    "held": ("on", "said not yet"),
    "released": ("off", "released"),
}
_TESTS = {"running": "Brake test running", "done": "Brake test done", "broken": "Brake test broken"}


class Now(NamedTuple):
    """What rows are drawn from. ``open_at`` counts unacknowledged violations by row id.

    ``dark`` are the switches at whose lamps a hand is.
    """

    board: Board
    plan: Plan
    settled: Settled
    faults: dict[str, list[str]]
    open_at: dict[str, int]
    why: Why
    working: tuple[AtWork, ...]
    live: bool
    dark: frozenset[str]


def row_view(row: Row, now: Now) -> dict[str, Any]:
    """A row. ``sure`` is false where a fault or a silent engine leaves the switch unproven.

    ``why`` is why its lamp is not green, ``crews`` are the jobs that are there or planned.
    """
    switch, board = row.switch, now.board
    stage = board.stages.get(switch.id, "")
    shown = board.outputs.get(switch.id, {})
    faults = now.faults.get(row.id, [])
    by_hand = switch.id in now.dark
    lamp = stand(switch.lamps, shown, live=now.live, by_hand=by_hand)
    return {
        "id": row.id,
        "name": row.name,
        "spur": row.spur is not None,
        "switch": switch.id,
        "switch_name": switch.name,
        "locked_by": "padlock" if switch.lock is Lock.PADLOCK else "no lock",
        "stage": stage,
        "stage_says": stage_says(stage, switch.lock),
        "steps": _steps(stage, switch.lock),
        "since_us": board.stage_since_us.get(switch.id, 0),
        "sure": now.live and not faults and stage != "",
        "faults": faults,
        "lamp": lamp,
        "why": [HAND] if lamp is BY_HAND else why_not_green(row, lamp["colour"], now.why),
        "white": crew_lamp(switch.lamps, shown, live=now.live and not by_hand),
        "open": now.open_at.get(row.id, 0),
        "crews": crews_at(row.spur.id, now.working) if row.spur else [],
        **_job_view(row, now, stage),
    }


def stage_says(stage: str, lock: Lock) -> str:
    """What a stage means."""
    if stage == "irregular":
        return IRREGULAR
    if stage == "secured" and lock is Lock.NONE:
        return "Lined for the main"
    return STAGES[stage][1] if stage in STAGES else "Not known yet"


def _steps(stage: str, lock: Lock) -> list[dict[str, str]]:
    order = list(STAGES)
    unused = {"unlocked", "restored"} if lock is Lock.NONE else set()
    at = order.index(stage) if stage in order else -1
    states = {
        step: "unused" if step in unused else _step_state(place, at)
        for place, step in enumerate(order)
    }
    return [{"id": step, "word": STAGES[step][0], "state": states[step]} for step in order]


def _step_state(place: int, at: int) -> str:
    if place == at:
        return "here"
    return "passed" if place < at else "ahead"


def _job_view(row: Row, now: Now, stage: str) -> dict[str, Any]:
    if row.spur is None:
        return {"phase": "", "next": None, "protections": _keys(row, now), "commands": []}
    job = now.board.work.get(row.spur.id, Work())
    thing = now.plan.things.get(job.next or "")
    step = None
    if job.next is not None:
        says = next_step(job, row.spur, thing, stage)
        step = {"id": job.next, "says": says, "since_us": _waiting_since(job)}
    return {
        "phase": job.phase,
        "next": step,
        "protections": [*_protections(row, job, now), *_keys(row, now), *_power(row, now)],
        "commands": [
            {"command": command, "says": COMMANDS[command]}
            for command in fitting_commands(job, row.spur)
            if now.live
        ],
        "test": _test(job),
        "refused": _refused(job),
    }


def _waiting_since(job: Work) -> int:
    """A question to the foreman waits from when it was asked, not from when it became due."""
    if job.next == FOREMAN and job.foreman in {"asked", "held"}:
        return job.asked_us
    return job.since_us


def _protections(row: Row, job: Work, now: Now) -> list[dict[str, Any]]:
    spur = row.spur
    chips = []
    if spur is not None and spur.foreman is not ForemanKind.NONE:
        said = _FOREMAN.get(job.foreman) if now.live else None
        state, says = said or ("unknown", UNKNOWN)
        chips.append(_chip(FOREMAN, FOREMAN, "Foreman", state, says))
    for thing in row.protections:
        kind = now.plan.kind(thing.id)
        state, says = sense(thing, now.settled)
        if any(at.partition(".")[0] == thing.id for _, at in now.board.faults):
            state, says = "unknown", "wiring fault"
        name = _chip_name(thing.name, row)
        chips.append(_chip(thing.id, str(kind), name, state, says))
    for chip in chips:
        chip["next"] = chip["id"] == job.next
    return chips


def _keys(row: Row, now: Now) -> list[dict[str, Any]]:
    """The row's keys that are not at home; a key on its hook needs no place on the board."""
    chips = []
    owners = (row.switch, *row.protections)
    for key in dict.fromkeys(getattr(owner, "key", None) for owner in owners):
        thing = now.plan.things.get(key or "")
        if isinstance(thing, Key) and not (home := now.settled.get(thing.hook.name)):
            state, says = ("unknown", UNKNOWN) if home is None else ("off", "out")
            chips.append(_chip(thing.id, "key", _chip_name(thing.name, row), state, says))
    return chips


def _power(row: Row, now: Now) -> list[dict[str, Any]]:
    if row.spur is None or row.spur.power is None:
        return []
    on = now.live and now.board.outputs.get(row.spur.id, {}).get("power") == "on"
    says = ("on" if on else "off") if now.live else UNKNOWN
    state = ("off" if on else "on") if now.live else "unknown"
    return [_chip(f"{row.spur.id}-power", "power", "Track power", state, says)]


def _chip_name(name: str, row: Row) -> str:
    short = short_name(name, row.name)
    return short[:1].upper() + short[1:]


def _chip(ident: str, kind: str, name: str, state: str, says: str) -> dict[str, Any]:
    return {
        "id": ident,
        "kind": kind,
        "name": name,
        "state": state,
        "says": says,
        "next": False,
    }


def _test(job: Work) -> dict[str, Any] | None:
    if job.test is None:
        return None
    says = _TESTS.get(job.test, job.test)
    return {"is": job.test, "says": says, "cars": job.cars, "ends_us": job.test_ends_us}


def _refused(job: Work) -> dict[str, Any] | None:
    return {"says": job.refused, "at_us": job.refused_us} if job.refused else None
