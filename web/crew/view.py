"""A job's page as JSON-ready data: everything is in words as well as in codes. Pure."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from typing import Any

import msgspec

from firmware_py.layout.model import Gate
from firmware_py.logbook.screen.jobs import Car, Job, JobStop
from web.crew.gauges import gauges
from web.crew.guide import guide
from web.crew.own import wanted
from web.crew.progress import Progress, StopProgress, progress_of
from web.crew.scene import Evening, Place, is_off, keys_of, place_of, traps_at
from web.crew.words import WHITE, lamp_means
from web.live.by_hand import dark_stands, hands_view
from web.live.faults import open_faults
from web.live.lamps import BY_HAND, crew_lamp, stand
from web.live.log import Followed
from web.live.view import violation_view

View = dict[str, Any]
PHASES = {"idle": "at rest", "opening": "opening", "working": "working", "closing": "closing"}
_HEAD = ("live", "engine", "engine_says", "trouble", "session", "layout", "opened", "ended")


def evening_of(followed: Followed, head: Mapping[str, Any]) -> Evening:
    """What all jobs' pages are drawn from; ``head`` is the board's."""
    live = bool(head["live"])
    standing = followed.standing.items()
    return Evening(
        followed.board,
        followed.plan,
        {name: contact.settled for name, contact in standing} if live else {},
        followed.violations,
        {job.id: job for job in followed.jobs},
        followed.ticks,
        progress_of(followed.jobs, followed.ticks, followed.board.work),
        wanted(followed.settings),
        head,
        followed.by_hand,
        followed.toward,
        followed.silent,
    )


def unheard(evening: Evening, says: str) -> Evening:
    """The evening for a crew at a box that is not heard: nothing is proven there."""
    head = {**evening.head, "live": False, "engine": "silent", "engine_says": says}
    return replace(evening, head=head, settled={})


def job_view(job: Job, evening: Evening) -> View:
    """One job's page. Places and notes are in it only while what opens them is open."""
    progress = evening.progress[job.id]
    at = place_of(evening, job)
    if at is not None and at.row.id in evening.silent:
        evening = unheard(evening, evening.silent[at.row.id])
    found = guide(job, evening)
    mine = at is not None and evening.live and progress.waits_for is None
    return {
        "head": {key: evening.head[key] for key in _HEAD},
        "job": _facts(job),
        "stops": _stops(job, progress, at, evening),
        "at": _at(at) if at else None,
        "next": msgspec.to_builtins(found.next),
        "after": found.after,
        "actions": msgspec.to_builtins(found.actions),
        **_lamps(at, evening),
        "gauges": gauges(at, evening) if mine and at else [],
        "keys": _keys(job, evening),
        "violations": _violations(job, evening),
        "faults": _faults(at, evening),
        "by_hand": hands_view(evening.plan, evening.by_hand),
    }


def _facts(job: Job) -> View:
    facts = {"id": job.id, "name": job.name, "crew": job.crew, "cars": job.cars, "rear": job.rear}
    return facts | {"dropped": job.dropped}


def _at(place: Place) -> View:
    return {
        "stop": place.index,
        "spur": place.spur.id,
        "name": place.spur.name,
        "switch": place.switch.name,
        "phase": place.phase,
        "phase_says": PHASES.get(place.phase, place.phase),
        "stand_button": place.switch.button is not None,
    }


def _stops(job: Job, progress: Progress, at: Place | None, evening: Evening) -> list[View]:
    views = []
    for index, (stop, stands) in enumerate(zip(job.stops, progress.stops, strict=True)):
        here = at is not None and at.index == index and stands.here
        views.append(_stop(index, stop, stands, at if here else None, evening))
    return views


def _stop(
    index: int, stop: JobStop, stands: StopProgress, here: Place | None, evening: Evening
) -> View:
    """``place`` of a car to spot and ``note`` are null, with what opens them, until it is open."""
    is_open = here is not None and note_is_open(here, evening)
    has_note = bool(stop.note or any(car.place for car in stop.spot))
    return {
        "stop": index,
        "spur": stop.spur,
        "name": evening.plan.name(stop.spur),
        "state": stands.state.value,
        "here": stands.here,
        "pull": [{"car": car.car, "place": car.place or None} for car in stop.pull],
        "spot": [_spot(car, is_open=is_open) for car in stop.spot],
        "note": stop.note or None if is_open else None,
        "sealed": "" if is_open or not has_note else _opens(stop.spur, evening),
    }


def _spot(car: Car, *, is_open: bool) -> View:
    return {"car": car.car, "place": car.place or None if is_open else None}


def note_is_open(place: Place, evening: Evening) -> bool:
    """Whether the industry's note may be read: its gate is open, or the spur is the crew's.

    Only in the crew's own round, and never on a guess about a contact.
    """
    if not evening.live or place.round is None or place.phase == "idle":
        return False
    gate = _first_gate(place.spur.id, evening)
    if gate is not None:
        return evening.is_open(gate.shut)
    return all(is_off(step, place, evening) for step in place.spur.opening)


def _first_gate(spur: str, evening: Evening) -> Gate | None:
    row = evening.plan.rows.get(spur)
    gates = (one for one in row.protections if isinstance(one, Gate)) if row else iter(())
    return next(gates, None)


def _opens(spur: str, evening: Evening) -> str:
    gate = _first_gate(spur, evening)
    if gate is not None:
        return f"The note and the exact places are read when the {gate.name} is open."
    return "The note and the exact places are read when the spur is yours."


def _lamps(at: Place | None, evening: Evening) -> View:
    """The lamps of the stand that the crew looks at now."""
    if at is None:
        return {"lamp": None, "white": None}
    shown = evening.board.outputs.get(at.switch.id, {})
    by_hand = at.switch.id in dark_stands(evening.by_hand)
    lamp = stand(at.switch.lamps, shown, live=evening.live, by_hand=by_hand)
    white = crew_lamp(at.switch.lamps, shown, live=evening.live and not by_hand)
    means = lamp_means(lamp["colour"], lamp["shows"], at.phase)
    if lamp is BY_HAND:
        means = "The host works a lamp here by hand. Wait until he has done."
    return {
        "lamp": lamp | {"at": at.switch.name, "means": means},
        "white": white | {"means": WHITE.get(white["shows"], "")} if white else None,
    }


def _keys(job: Job, evening: Evening) -> list[View]:
    words = {True: "on its hook", False: "off its hook", None: "not known"}
    return [
        {
            "id": key.id,
            "name": key.name,
            "home": evening.settled.get(key.hook.name),
            "says": words[evening.settled.get(key.hook.name)],
        }
        for key in keys_of(evening.plan, job)
    ]


def _violations(job: Job, evening: Evening) -> list[View]:
    """The open violations at the job's own spurs, the latest first."""
    spurs = {stop.spur for stop in job.stops}
    rows = [row for spur in spurs if (row := evening.plan.rows.get(spur))]
    traps = {trap for row in rows for trap in traps_at(row, evening)}
    views = []
    for one in evening.violations:
        mine = one.at in traps or spurs & set(evening.plan.rows_of(one.spur or one.at))
        if one.acknowledged_t_us is None and mine:
            view = violation_view(one, evening.board, evening.plan)
            kept = ("number", "rule", "title", "happened", "means", "why", "t_us", "times")
            views.append({key: view[key] for key in kept} | {"spur": one.spur})
    return views


def _faults(at: Place | None, evening: Evening) -> list[View]:
    if at is None:
        return []
    return [
        {"title": fault["title"], "says": fault["says"]}
        for fault in open_faults(evening.board, evening.plan)
        if fault["row"] == at.row.id
    ]
