"""The next step while a spur is open: opening it, the work there, and putting it all back. Pure."""

from __future__ import annotations

from typing import NamedTuple

import msgspec

from firmware_py.layout.model import FOREMAN, Gate, Key, Kind, Switch
from firmware_py.logbook.screen.jobs import Job
from web.crew import words
from web.crew.afterwards import says_after, says_of, then_on
from web.crew.scene import Evening, Place
from web.crew.steps import Action, Next, order
from web.crew.working import working


class Found(NamedTuple):
    """The next step, the words of the one after it, and the buttons."""

    next: Next
    after: str
    actions: tuple[Action, ...] = ()


def at_spur(job: Job, place: Place, evening: Evening) -> Found | None:
    """The step at a spur that is not at rest; ``None`` where the log names none."""
    step = place.work.next
    if step is None:
        return None
    if place.work.test == "running":
        return _testing(place)
    if step == "work":
        return Found(*working(job, place, evening))
    if place.phase == "closing":
        return _closing(job, place, evening, step)
    return _opening(job, place, evening, step)


def _opening(job: Job, place: Place, evening: Evening, step: str) -> Found:
    after = says_after(place, evening, step)
    calling_off = order("work-done", place.spur.id, "Call it off and close up")
    if step == FOREMAN:
        return _foreman(place, after, calling_off)
    thing = evening.plan.things.get(step)
    key = evening.plan.things.get(getattr(thing, "key", None) or "")
    if isinstance(key, Key) and evening.is_made(key.hook) and _is_locked(thing, evening):
        says = f"Take the {key.name}"
        return Found(
            Next.of(key.id, "do", says, words.TAKE_KEY),
            says_of(place, evening, step),
            (calling_off,),
        )
    if isinstance(thing, Switch) and _under_wheels(thing, evening):
        return Found(_off_the_points(thing), says_of(place, evening, step), (calling_off,))
    return Found(_thing(place, evening, step, words.OPENING), after, (calling_off,))


def _foreman(place: Place, after: str, calling_off: Action) -> Found:
    match place.work.foreman:
        case "held":
            said, says = words.FOREMAN_HOLDS, "Wait: the foreman says not yet"
        case "asked":
            said, says = words.FOREMAN_ANSWERS, "Wait for the foreman's answer"
        case _:
            step = Next.of(FOREMAN, "do", "Ask the foreman for the spur", words.ASK)
            asking = order("ask", place.spur.id, "Ask the foreman", main=True)
            return Found(step, after, (asking, calling_off))
    return Found(Next.of(FOREMAN, "wait", says, said), after, (calling_off,))


def _closing(job: Job, place: Place, evening: Evening, step: str) -> Found:
    after = says_after(place, evening, step) or then_on(job, place, evening)
    if step == FOREMAN:
        back = msgspec.structs.replace(
            Next.of(FOREMAN, "do", "Hand the spur back to the foreman", words.HAND_BACK),
            passes=True,
        )
        button = order("hand-back", place.spur.id, "Hand it back", main=True)
        return Found(back, after, (button,))
    thing = evening.plan.things.get(step)
    if isinstance(thing, Switch):
        if _under_wheels(thing, evening):
            return Found(_off_the_points(thing), says_of(place, evening, step))
        if not evening.is_made(thing.normal) and evening.is_made(place.spur.fouling):
            foul = Next.of("fouling", "do", "Push the cars in past the clearance", words.NOT_FOUL)
            return Found(foul, says_of(place, evening, step))
    return Found(_thing(place, evening, step, words.CLOSING), after)


def _testing(place: Place) -> Found:
    step = Next.of("brake-test", "wait", "Stand still: the brakes are tested", words.BRAKE_TEST)
    return Found(step, "The work goes on")


def _thing(place: Place, evening: Evening, step: str, told: dict[Kind, words.Words]) -> Next:
    kind = evening.plan.kind(step)
    says = says_of(place, evening, step)
    if kind is None or kind not in told:
        return Next(step, "do", says)
    made = Next.of(step, "do", says, told[kind])
    how = _how(evening, step, made.how)
    return msgspec.structs.replace(made, how=how)


def _how(evening: Evening, step: str, how: str) -> str:
    """Nothing is said of a padlock that isn't there, nor of what has been done already."""
    match evening.plan.things.get(step):
        case Switch(hasp=None) as switch:
            way = "main" if evening.board.stages.get(switch.id) != "secured" else "spur"
            return f"Throw the points all the way over to the {way}, and look that they fit."
        case Switch() as switch if evening.board.stages.get(switch.id) == "restored":
            return "Put the padlock through the hasp, and shut it."
        case Switch() as switch if evening.is_open(switch.hasp):
            return how.replace("Open the padlock, t", "T")
        case Gate(hasp=None):
            return how.replace("Open its padlock and s", "S").replace(" and put its padlock on", "")
        case _:
            return how


def _is_locked(thing: object, evening: Evening) -> bool:
    hasp = getattr(thing, "hasp", None)
    return hasp is not None and not evening.is_open(hasp)


def _under_wheels(switch: Switch, evening: Evening) -> bool:
    """Whether something stands on points that are to be thrown."""
    return evening.is_made(switch.detector) and evening.board.stages.get(switch.id) != "restored"


def _off_the_points(switch: Switch) -> Next:
    return Next.of(f"{switch.id}-clear", "do", "Get clear of the points", words.OFF_THE_POINTS)
