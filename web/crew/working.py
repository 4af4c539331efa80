"""The next step while nothing is left to open: the horn, the work, and a look before leaving."""

from __future__ import annotations

from typing import NamedTuple

import msgspec

from firmware_py.logbook.screen.jobs import Job
from firmware_py.logbook.screen.ticks import Step
from web.crew import own, words
from web.crew.afterwards import first_back, work_says
from web.crew.scene import Evening, Place
from web.crew.steps import Action, Next, order, tick, tick_step

CLEAR = "Pull clear and say that the work is done"

Told = tuple[Next, str, tuple[Action, ...]]
"""The step, the words of the one after it, and its buttons."""


class Check(NamedTuple):
    """One of the crew's own steps, and the stop that it is ticked under."""

    step: Step
    stop: int


def working(job: Job, place: Place, evening: Evening) -> Told:
    """What is next while the work is. ``at_stand`` is said where the stand's button ends it."""
    horn = Check(Step.HORN, place.index)
    if place.phase == "opening" and Step.HORN in evening.own and _undone(job, place, evening, horn):
        step, buttons = tick_step(*horn, job)
        return step, work_says(place.stop), buttons
    checks = _checks(job, place, evening)
    left = [check for check in checks if _undone(job, place, evening, check)]
    beside = _beside(job, place)
    if not left:
        step = _ending(place, checked=bool(checks))
        done = order("work-done", place.spur.id, "Work done", main=True)
        return step, first_back(place, evening), (done, *beside)
    if left == checks:
        asks, label = own.says(left[0].step, job)
        label = f"Cars placed, {_small(label)}"
        button = tick(*left[0], label, main=True)
        step = _cars(place, ", ".join(_small(own.says(one.step, job)[0]) for one in left))
        return _at_stand(step, place), asks, (button, *beside)
    step, buttons = tick_step(*left[0], job)
    return step, CLEAR, (*buttons, *beside)


def _undone(job: Job, place: Place, evening: Evening, check: Check) -> bool:
    """Whether a check was not ticked since this round began."""
    since = place.round.began_id if place.round else 0
    return not own.ticked(evening.ticks, job.id, check.stop, check.step, since)


def _checks(job: Job, place: Place, evening: Evening) -> list[Check]:
    """What is looked at before leaving."""
    found = []
    if Step.STRETCH in evening.own and place.stop.pull:
        found.append(Check(Step.STRETCH, place.index))
    if Step.REAR in evening.own and job.rear and place.index == len(job.stops) - 1:
        found.append(Check(Step.REAR, own.home_stop(job)))
    return found


def _beside(job: Job, place: Place) -> tuple[Action, ...]:
    test = order("start-brake-test", place.spur.id, "Brake test", cars=max(1, job.cars))
    if place.phase != "opening":
        return (test,)
    return test, order("work-done", place.spur.id, "Call it off and close up")


def _ending(place: Place, *, checked: bool) -> Next:
    if checked:
        step = Next.of("clear", "do", CLEAR, words.CLEAR)
    else:
        step = _cars(place, "pull clear, and say that the work is done")
    return _at_stand(step, place)


def _at_stand(step: Next, place: Place) -> Next:
    """Tell that the stand's button ends the work, where it has one: hands-free, it is what does."""
    return msgspec.structs.replace(step, at_stand=place.switch.button is not None)


def _cars(place: Place, ends: str) -> Next:
    says = "Work the spur" if place.phase == "working" else "Go in and work the spur"
    step = Next.of("work", "work", says, words.WORK)
    how = f"{step.how} When the cars are where they belong: {ends}."
    return msgspec.structs.replace(step, how=how)


def _small(text: str) -> str:
    return f"{text[:1].lower()}{text[1:]}"
