"""The words of steps that are not the next one yet. Pure."""

from __future__ import annotations

from dataclasses import replace

from firmware_py.layout.model import FOREMAN
from firmware_py.logbook.screen.jobs import Car, Job, JobStop
from web.crew.scene import Evening, Place, is_back, is_off, keys_of
from web.live.board import Work
from web.live.steps import next_step

LONG = 90
"""A list of cars that is longer is told as a number; it stands on the page anyway."""


def work_says(stop: JobStop) -> str:
    """The work of a stop in one or two sentences; the places are told apart from it.

    >>> work_says(JobStop("kiln", (Car("the box car"),), (Car("two hoppers"),)))
    'Pull the box car. Spot two hoppers.'
    """
    both = (("Pull", stop.pull), ("Spot", stop.spot))
    told = " ".join(f"{verb} {', '.join(one.car for one in cars)}." for verb, cars in both if cars)
    if not told:
        return "Go in and work the spur"
    if len(told) <= LONG:
        return told
    return " ".join(f"{verb} {_count(cars)}." for verb, cars in both if cars)


def _count(cars: tuple[Car, ...]) -> str:
    return f"{len(cars)} cars" if len(cars) > 1 else "1 car"


def says_of(place: Place, evening: Evening, step: str, stage: str | None = None) -> str:
    """The words of a protection's step; ``stage`` is the switch's where it is not as it stands."""
    if step == FOREMAN and place.phase == "closing":
        return "Hand the spur back to the foreman"
    if step == FOREMAN:
        return "Ask the foreman for the spur"
    work = Work(phase=place.phase, next=step)
    known = evening.board.stages.get(place.switch.id, "")
    return next_step(work, place.spur, evening.plan.things.get(step), stage or known)


def says_after(place: Place, evening: Evening, step: str) -> str:
    """The words of what follows a step in the spur's own order; "" where nothing does."""
    opening = place.phase != "closing"
    line = place.spur.opening if opening else place.spur.closing
    stands = is_off if opening else is_back
    rest = line[line.index(step) + 1 :] if step in line else ()
    left = (one for one in rest if not stands(one, place, evening))
    found = next(left, None)
    if found is not None:
        return says_of(place, evening, found)
    return work_says(place.stop) if opening else ""


def first_back(place: Place, evening: Evening) -> str:
    """What is put back first once the work is done."""
    closing = replace(place, work=Work(phase="closing", foreman=place.work.foreman))
    left = (one for one in place.spur.closing if not is_back(one, closing, evening))
    found = next(left, None)
    return says_of(closing, evening, found) if found is not None else ""


def then_on(job: Job, place: Place, evening: Evening) -> str:
    """Where the job goes on when this spur is at rest again."""
    for stop in job.stops[place.index + 1 :]:
        return f"On to the {evening.plan.name(stop.spur)}"
    out = (key for key in keys_of(evening.plan, job) if evening.is_open(key.hook))
    key = next(out, None)
    return f"Hang the {key.name} on its hook" if key else "The job is done"
