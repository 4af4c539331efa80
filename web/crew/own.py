"""The crew's own steps, which no contact sees: which of them are wanted, and which stand. Pure."""

from __future__ import annotations

import json
from collections.abc import Iterable, Mapping

from firmware_py.logbook.screen.jobs import Job
from firmware_py.logbook.screen.ticks import Step, Tick

SETTING = "crew-steps"
"""The setting with a JSON list of the steps that are wanted; all of them where it is not set."""

ALL = (Step.YARD, Step.REAR, Step.HORN, Step.STRETCH)
_REAR = {
    "marker": ("Hang the marker on the last car", "The marker hangs"),
    "caboose": ("See that the caboose is last", "The caboose is last"),
}


def wanted(settings: Mapping[str, str]) -> frozenset[Step]:
    """The steps that are wanted. A setting that can't be read asks for all of them."""
    kept = settings.get(SETTING)
    if kept is None:
        return frozenset(ALL)
    try:
        names = json.loads(kept)
        return frozenset(step for step in ALL if step.value in names)
    except (ValueError, TypeError):
        return frozenset(ALL)


def ticked(
    ticks: Iterable[Tick], job_id: int, stop: int, step: Step, since_id: int | None = None
) -> bool:
    """Whether a job's tick stands; with ``since_id``, one made after that entry."""
    return any(
        (one.job_id, one.stop, one.step) == (job_id, stop, step)
        and (since_id is None or one.entry_id >= since_id)
        for one in ticks
    )


def home_stop(job: Job) -> int:
    """The stop under which the rear's check before the way home is ticked: one past the last."""
    return len(job.stops)


def says(step: Step, job: Job) -> tuple[str, str]:
    """What a step asks for, and what its button says once it is done."""
    match step:
        case Step.YARD:
            return "Have a word with the yard", "The yard knows"
        case Step.REAR:
            return _REAR.get(job.rear, ("See that the rear is right", "The rear is right"))
        case Step.HORN:
            return "Sound the horn or bell", "Sounded"
        case _:
            return "Stretch the couplings", "All couplings hold"
