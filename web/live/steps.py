"""The next step in plain words, and the commands that fit it."""

from __future__ import annotations

from firmware_py.layout.model import (
    FOREMAN,
    Chock,
    Derail,
    Flag,
    ForemanKind,
    Gate,
    Lock,
    Spur,
    Switch,
    Thing,
)
from web.live.board import Work
from web.live.plan import short_name


def next_step(job: Work, spur: Spur, thing: Thing | None, stage: str) -> str:
    """What the crew (or the foreman) does now; empty while the spur is at rest.

    ``thing`` is the thing of the step, ``None`` for the foreman and the work; ``stage`` is
    the stage of the spur's switch. A name does not repeat the spur's, which heads the row.
    """
    match job.next:
        case None:
            return ""
        case "work":
            return "Work the spur" if job.phase == "working" else "Go in and work the spur"
        case "foreman":
            return _foreman(job, spur)
        case step:
            called = short_name(thing.name if thing else step, spur.name)
            return _at(thing, called, stage, opening=job.phase == "opening")


def _at(thing: Thing | None, name: str, stage: str, *, opening: bool) -> str:
    match thing:
        case Switch():
            return (
                _open_switch(thing, name, stage) if opening else _close_switch(thing, name, stage)
            )
        case Flag():
            return f"Take down the {name}" if opening else f"Put up the {name}"
        case Gate():
            return _gate(thing, name, opening=opening)
        case Derail():
            return _derail(thing, name, opening=opening)
        case Chock():
            return _chock(name, opening=opening)
        case _:
            return f"See to {name}"


def _foreman(job: Work, spur: Spur) -> str:
    if job.phase == "closing":
        return "Hand the spur back to the foreman"
    match job.foreman:
        case "asked" if spur.foreman is ForemanKind.AUTO:
            return "Wait for the foreman's answer"
        case "asked":
            return "Foreman: answer the crew"
        case "held":
            return "Wait: the foreman said not yet"
        case _:
            return "Ask the foreman for the spur"


def _open_switch(switch: Switch, name: str, stage: str) -> str:
    if stage == "secured" and switch.lock is Lock.PADLOCK:
        return f"Unlock the {name} and line it"
    if stage == "irregular":
        return f"Unlock the {name} and look at it"
    return f"Line the {name} for the spur"


def _close_switch(switch: Switch, name: str, stage: str) -> str:
    if switch.lock is Lock.NONE:
        return f"Line the {name} for the main"
    match stage:
        case "restored" | "unlocked":
            return f"Lock the {name}"
        case "irregular":
            return f"Unlock the {name} and put it right"
        case _:
            return f"Line the {name} for the main and lock it"


def _gate(gate: Gate, name: str, *, opening: bool) -> str:
    locked = gate.hasp is not None
    if opening:
        return f"Unlock and open the {name}" if locked else f"Open the {name}"
    return f"Shut and lock the {name}" if locked else f"Shut the {name}"


def _derail(derail: Derail, name: str, *, opening: bool) -> str:
    if opening:
        return f"Take the {name} off the rail"
    lock = " and lock it" if derail.hasp is not None else ""
    return f"Put the {name} back on the rail{lock}"


def _chock(name: str, *, opening: bool) -> str:
    if opening:
        return f"Hang the {name} in its rack"
    return f"Set the {name} against a wheel"


COMMANDS = {
    "release": "Release",
    "hold": "Not yet",
    "hand-back": "Hand back",
    "ask": "Ask",
    "work-done": "Work done",
    "start-brake-test": "Start brake test",
}
"""What the buttons of the commands that name a spur are labelled."""


def fitting_commands(job: Work, spur: Spur | None) -> tuple[str, ...]:
    """The commands for which the board's row has buttons now: the host's part as foreman, no more.

    A foreman who answers by himself needs no button.
    """
    if spur is None or spur.foreman is not ForemanKind.HOST:
        return ()
    match job.foreman:
        case "asked":
            return ("release", "hold")
        case "held":
            return ("release",)
        case "released" if job.phase == "closing" and job.next == FOREMAN:
            return ("hand-back",)
        case _:
            return ()
