"""What the bench shows beside the board's own state, as JSON-ready data. Pure."""

from __future__ import annotations

from typing import Any

from firmware_py.core.by_hand import CHOICES, Believed, called, objection
from firmware_py.core.names import Shows
from firmware_py.layout.model import Contact, Thing, outputs_of
from web.bench.edges import BUCKETS_US, Traces
from web.bench.health import health_of
from web.live.log import Followed

View = dict[str, Any]
_LIGHTS = {Shows.STEADY: "Light", Shows.FLASHING: "Flash", Shows.OFF: "Put out"}
_VERBS = {
    "bolt": {Shows.DRAWN: "Draw", Shows.SHUT: "Shut"},
    "power": {Shows.ON: "Switch on", Shows.OFF: "Switch off"},
    "buzzer": {Shows.ON: "Sound", Shows.OFF: "Silence"},
}


def bench_view(followed: Followed, traces: Traces, *, live: bool) -> View:
    """Every contact's trace and health, and what a hand may have every output show now."""
    faults: dict[str, set[str]] = {}
    for fault, at in followed.board.faults:
        faults.setdefault(at, set()).add(fault)
    layout = followed.plan.layout
    known = believed(followed, live=live)
    return {
        "head": {
            "session": followed.session.id,
            "since_us": traces.since_us,
            "whole": traces.whole,
            "buckets_us": BUCKETS_US,
        },
        "contacts": {
            one.name: _contact(one, followed, traces, faults.get(one.name, set()), live=live)
            for one in layout.contacts
        },
        "outputs": {
            f"{thing.id}.{output}": _output(thing, output, followed, known)
            for thing in layout.things
            for output, _ in outputs_of(thing)
        },
    }


def believed(followed: Followed, *, live: bool) -> Believed:
    """How contacts stand, as the engine judges a hand: unknown while they have not settled."""
    if not live:
        return {}
    standing = followed.standing.items()
    return {name: one.settled if one.settled is one.raw else None for name, one in standing}


def _contact(
    contact: Contact, followed: Followed, traces: Traces, faults: set[str], *, live: bool
) -> View:
    health = health_of(contact, followed.standing.get(contact.name), faults, live=live)
    return {
        "settle_us": contact.settle_us,
        "health": {"state": health.state, "says": health.says},
        **traces.view(contact.name),
    }


def _output(thing: Thing, output: str, followed: Followed, known: Believed) -> View:
    """``choices``: what a hand may ask for, with the reason why not now where there is one."""
    layout, opened = followed.plan.layout, followed.session.opened
    verbs = _VERBS.get(output, _LIGHTS)
    return {
        "called": called(thing, output),
        "choices": [
            {
                "command": shows.value,
                "says": verbs[shows],
                "why": objection(layout, thing, output, shows, known, opened=opened) or "",
            }
            for shows in CHOICES[output]
        ],
    }
