"""Passes of speed traps as people read them: how sure the speed is, which way, and whose. Pure."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from math import ceil
from typing import Any

from firmware_py.dynamics.scale_speed import kmh
from firmware_py.dynamics.trapping import reading_of_speed
from firmware_py.layout.model import Layout, Trap
from firmware_py.logbook.screen.jobs import Job
from web.crew.progress import Progress
from web.live.board import Round
from web.live.plan import Plan

At = tuple[int, str]
"""A pass: session time in microseconds as the log's lines give it, and the trap."""

LINE_US = 1_000
"""Lines give times to the millisecond."""

NEWEST = 2_000
"""So many lines of the tape are looked at for the edge that a pass has just been read by."""


def detectors(layout: Layout) -> frozenset[str]:
    """The contacts that the traps take their times from."""
    return frozenset(end for trap in layout.traps for end in (trap.first, trap.second))


def directions(
    layout: Layout, passes: Iterable[At], edges: Iterable[tuple[int, str]]
) -> dict[At, str]:
    """The detector that each pass ended at; one that can't be told apart is left out.

    The entry of a pass stands where that detector's edge settled, so its edge stands its settle
    time before; an edge of the other one there as well leaves it open.
    """
    settles = {contact.name: contact.settle_us for contact in layout.contacts}
    traps = {trap.id: trap for trap in layout.traps}
    times: dict[str, set[int]] = {}
    for t_us, name in edges:
        times.setdefault(name, set()).add(t_us // LINE_US)
    found: dict[At, str] = {}
    for t_us, at in passes:
        trap = traps.get(at)
        if trap is None:
            continue
        ends = [end for end in (trap.first, trap.second) if _was_made(times, end, t_us, settles)]
        if len(ends) == 1:
            found[t_us, at] = ends[0]
    return found


def _was_made(
    times: Mapping[str, set[int]], end: str, t_us: int, settles: Mapping[str, int]
) -> bool:
    at = (t_us - settles[end]) // LINE_US
    return bool(times.get(end, set()) & {at - 1, at, at + 1})


def jobs_at(
    plan: Plan, trap: str, t_us: int, jobs: Mapping[int, Job], progress: Mapping[int, Progress]
) -> str:
    """The jobs that were at work, at that time, at a spur where the trap's ends are; often one."""
    spurs = set(plan.rows_of(trap))
    names = [
        jobs[number].name
        for number, one in progress.items()
        if number in jobs
        and any(stop.spur in spurs and during(stop.rounds, t_us) for stop in one.stops)
    ]
    return " or ".join(names)


def during(rounds: Sequence[Round], t_us: int) -> bool:
    """Whether one of the rounds was going on at that time."""
    return any(
        one.began_us - LINE_US <= t_us and (one.ended_us is None or t_us <= one.ended_us + LINE_US)
        for one in rounds
    )


def speed_view(trap: Trap | None, mph: float, ratio: float) -> dict[str, Any]:
    """A speed in the unit that the trap's limit is given in.

    ``says`` is the speed with its doubt, rounded up to a tenth; ``mph`` and ``limit`` are always
    scale miles an hour. A pass so slow that it may have been a pause says that in ``paused``.
    """
    view: dict[str, Any] = {
        "mph": round(mph, 1),
        "limit": None,
        "over": False,
        "unit": "scale mph",
        "says": f"{mph:.1f}",
        "limit_says": "",
        "plus_minus": None,
        "paused": False,
    }
    if trap is None:
        return view
    known = reading_of_speed(trap.distance_mm, mph, ratio)
    turn = kmh if trap.in_kmh else float
    doubt = ceil(turn(known.plus_minus) * 10) / 10
    limit = trap.limit_mph
    return view | {
        "limit": limit,
        "over": limit is not None and mph > limit,
        "unit": "scale km/h" if trap.in_kmh else "scale mph",
        "says": f"{turn(mph):.1f} ± {doubt:.1f}",
        "limit_says": "" if limit is None else f"{turn(limit):.3g}",
        "plus_minus": round(known.plus_minus, 3),
        "paused": known.may_have_stopped,
    }


def toward_says(plan: Plan, end: str) -> str:
    """Which way a train ran, in words; empty where that is not known."""
    return f"toward {plan.name(end.partition('.')[0])}" if end else ""
