"""Locomotives as JSON, and the question about one that the fitting answers. Pure."""

from __future__ import annotations

from typing import Any

import msgspec

from firmware_py.dynamics.drive import Drive
from firmware_py.logbook.screen.locomotives import Locomotive, Measure, Passing, Stop, Wanted
from web.asks import AskError
from web.pace.bodies import LocomotiveBody, StopBody

MOST_LOCOMOTIVES = 200
MOST_RUNS = 400


def locomotive_view(one: Locomotive) -> dict[str, Any]:
    """A locomotive with everything that was measured; ``card`` is its page to print."""
    return {
        "id": one.id,
        "name": one.name,
        "measure": msgspec.to_builtins(one.measure),
        "runs": msgspec.to_builtins(one.runs),
        "wanted": msgspec.to_builtins(one.wanted),
        "stop": msgspec.to_builtins(one.stop),
        "card": f"/pace/locomotives/{one.id}/card",
    }


def filled(body: LocomotiveBody, known: Locomotive | None) -> Locomotive:
    """The locomotive that a body makes of the one with its id, or a new one.

    Passes measured under other settings say nothing under these, so they must go first.
    """
    measure = Measure(body.steps, body.cv2, body.cv6, body.cv5)
    if known is not None and known.runs and known.measure != measure:
        raise AskError(
            409,
            "its passes were measured with other settings in force; throw them away first, or make "
            "it a new locomotive",
        )
    wanted = Wanted(body.top_mph, body.stop_mm, body.away_mm)
    kept = known or Locomotive(body.name)
    # A stop was measured with the settings advised for what was wanted then.
    stop = kept.stop if kept.wanted.top_mph == wanted.top_mph else None
    return Locomotive(body.name.strip(), measure, kept.runs, wanted, stop, kept.id)


def with_run(one: Locomotive, run: Passing) -> Locomotive:
    """The same with one more pass."""
    if run.step > one.measure.steps:
        raise AskError(422, f"it has {one.measure.steps} throttle steps; {run.step} is not one")
    if len(one.runs) >= MOST_RUNS:
        raise AskError(409, f"it has {MOST_RUNS} passes already; throw some away")
    return msgspec.structs.replace(one, runs=(*one.runs, run))


def without_run(one: Locomotive, place: int) -> Locomotive:
    """The same without the pass at that place."""
    if place >= len(one.runs):
        raise AskError(404, f"it has {len(one.runs)} passes; there is none at place {place}")
    return msgspec.structs.replace(one, runs=one.runs[:place] + one.runs[place + 1 :])


def with_stop(one: Locomotive, body: StopBody | None) -> Locomotive:
    """The same with the stop that was measured, or without one."""
    if body is None:
        return msgspec.structs.replace(one, stop=None)
    if body.from_step > 28:
        raise AskError(422, "give the step by the table's 28 entries: 28 is full, 14 is half")
    stop = Stop(body.cv4, body.from_step, body.stopped_mm, body.entry_mph)
    return msgspec.structs.replace(one, stop=stop)


def question_of(one: Locomotive, ratio: float) -> dict[str, Any]:
    """What ``web.pace.fitting`` is asked about it."""
    measure = one.measure
    drive = Drive(measure.steps, measure.start, measure.middle, measure.top)
    return {
        "ratio": ratio,
        "drive": msgspec.to_builtins(drive),
        "runs": msgspec.to_builtins(one.runs),
        "top_mph": one.wanted.top_mph,
        "stop_mm": one.wanted.stop_mm,
        "away_mm": one.wanted.away_mm,
        "measured": msgspec.to_builtins(one.stop),
    }
