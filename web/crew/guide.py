"""The one next step of a job, what comes after it, and what its crew may ask for now. Pure."""

from __future__ import annotations

from collections.abc import Iterator
from typing import NamedTuple

import msgspec

from firmware_py.logbook.screen.jobs import Job
from firmware_py.logbook.screen.ticks import Step
from web.crew import own, words
from web.crew.at_spur import Found, at_spur
from web.crew.scene import (
    Evening,
    Place,
    called,
    keys_at,
    keys_of,
    place_of,
    user_of,
)
from web.crew.steps import Action, Next, order, tick, tick_step
from web.live.sources import Fact

OPEN_UP = "Open the spur in its own order"


class Guide(NamedTuple):
    """The next step, the words of the one after it ("" for none), and the buttons."""

    next: Next
    after: str
    actions: tuple[Action, ...]


def guide(job: Job, evening: Evening) -> Guide:
    """What a job's crew does now. The first of ``actions`` that is ``main`` goes on."""
    at_rest = _not_now(job, evening)
    if at_rest is not None:
        return Guide(at_rest, "", ())
    progress = evening.progress[job.id]
    if progress.current is None:
        return _after_all(job, evening)
    place = place_of(evening, job)
    if place is None:
        return _no_such_spur(progress.current, progress.stops[progress.current].spur)
    if progress.waits_for is not None:
        return _other_crew(job, place, evening, may_claim=progress.may_claim)
    found = at_spur(job, place, evening) if place.phase != "idle" else None
    return _guide(found) if found is not None else _before(job, place, evening)


def _guide(found: Found) -> Guide:
    return Guide(found.next, found.after, found.actions)


def _not_now(job: Job, evening: Evening) -> Next | None:
    """Why there is no step now, if there is none."""
    head = evening.head
    if not evening.live:
        how = "Stop where you are. Treat every switch as red."
        return Next("not-live", "wait", "Stop: nothing is proven now", how, head["engine_says"])
    if not head["opened"]:
        how = "Read through your job meanwhile. This page goes on by itself."
        why = "The host opens the session when everybody is ready. Nobody is in a hurry."
        return Next("not-open", "wait", "The evening has not begun yet", how, why)
    if not job.stops:
        how = "Ask the host for a stop."
        return Next("no-stops", "wait", "This job has no stops", how)
    return None


def _after_all(job: Job, evening: Evening) -> Guide:
    """Every stop is behind the crew: the keys go home."""
    out = [key for key in keys_of(evening.plan, job) if evening.is_open(key.hook)]
    passed_on = [(key, user) for key in out if (user := user_of(key, job, evening))]
    mine = [key for key in out if key not in {key for key, _ in passed_on}]
    if mine:
        step = Next.of(mine[0].id, "do", f"Hang the {mine[0].name} on its hook", words.KEY_HOME)
        return Guide(step, "The job is done", ())
    how = "".join(f"If you hold the {key.name}: {called(to)} needs it. " for key, to in passed_on)
    why = "Every stop is behind you and nothing is left open. Tell the host."
    return Guide(Next("done", "done", "The job is done", how.strip(), why), "", ())


def _no_such_spur(stop: int, spur: str) -> Guide:
    how = "Tell the host; go on to the next stop meanwhile."
    says = f"This layout has no spur {spur}"
    leave = tick(Step.LEFT, stop, "Go on to the next stop", main=True)
    return Guide(Next("no-spur", "wait", says, how), "", (leave,))


def _other_crew(job: Job, place: Place, evening: Evening, *, may_claim: bool) -> Guide:
    holder = evening.jobs[evening.progress[job.id].waits_for or 0]
    says = f"The {place.spur.name} spur is being worked by {called(holder)}"
    how = "Wait clear of the switch. This page says when it is your turn."
    why = "Two crews at one spur can't see each other's moves."
    waits = Next("other-crew", "wait", says, how, why, Fact.PRACTICE.value)
    actions = [_leave(place)]
    if may_claim:
        actions.insert(0, tick(Step.HERE, place.index, "It is us who are at work here"))
    return Guide(waits, f"Ask for the {place.spur.name} yourself", tuple(actions))


def _before(job: Job, place: Place, evening: Evening) -> Guide:
    """The spur is at rest: leave the yard, take the keys, ask."""
    steps = list(_to_ask(job, place, evening))
    leaving = (_leave(place),)
    first, buttons = steps[0]
    after = steps[1][0].says if len(steps) > 1 else OPEN_UP
    return Guide(first, after, (*buttons, *leaving))


def _to_ask(job: Job, place: Place, evening: Evening) -> Iterator[tuple[Next, tuple[Action, ...]]]:
    yield from _yard(job, place, evening)
    for key in keys_at(evening.plan, place.spur.id):
        if evening.is_made(key.hook):
            yield Next.of(key.id, "do", f"Take the {key.name}", words.TAKE_KEY), ()
        elif evening.is_open(key.hook) and (user := user_of(key, job, evening)):
            says = f"The {key.name} is with {called(user)}"
            yield Next.of(key.id, "wait", says, words.KEY_AWAY), ()
    yield _ask(place)


def _yard(job: Job, place: Place, evening: Evening) -> Iterator[tuple[Next, tuple[Action, ...]]]:
    if place.index != 0:
        return
    for step in (Step.YARD, Step.REAR):
        asked_for = step in evening.own and (step is not Step.REAR or job.rear)
        if asked_for and not own.ticked(evening.ticks, job.id, 0, step):
            yield tick_step(step, 0, job)


def _ask(place: Place) -> tuple[Next, tuple[Action, ...]]:
    name, at_stand = place.spur.name, place.switch.button is not None
    if place.spur.foreman.value == "none":
        step = Next.of("ask", "do", f"Go to the {name} and say that you begin", words.BEGIN)
        label = "We begin"
    else:
        said = words.ASK_AT_STAND if at_stand else words.ASK
        step = Next.of("ask", "do", f"Go to the {name} and ask the foreman", said)
        label = "Ask the foreman"
    step = msgspec.structs.replace(step, at_stand=at_stand)
    return step, (order("ask", place.spur.id, label, main=True),)


def _leave(place: Place) -> Action:
    return tick(Step.LEFT, place.index, "Leave this stop out")
