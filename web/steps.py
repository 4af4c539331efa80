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
from web.board import Job


def next_step(job: Job, spur: Spur, thing: Thing | None, stage: str) -> str:
    """What the crew (or the foreman) does now; empty while the spur is at rest.

    ``thing`` is the thing of the step, ``None`` for the foreman and the work; ``stage`` is
    the stage of the spur's switch.
    """
    match job.next:
        case None:
            return ""
        case "work":
            return "Work the spur" if job.phase == "working" else "Go in and work the spur"
        case "foreman":
            return _foreman(job, spur)
        case step:
            return _at(thing, step, stage, opening=job.phase == "opening")


def _at(thing: Thing | None, step: str, stage: str, *, opening: bool) -> str:
    match thing:
        case Switch():
            return _open_switch(thing, stage) if opening else _close_switch(thing, stage)
        case Flag():
            return f"Take down the {thing.name}" if opening else f"Put up the {thing.name}"
        case Gate():
            return _gate(thing, opening)
        case Derail():
            return _derail(thing, opening)
        case Chock():
            return _chock(thing, opening)
        case _:
            return f"See to {step}"


def _foreman(job: Job, spur: Spur) -> str:
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


def _open_switch(switch: Switch, stage: str) -> str:
    if stage == "secured" and switch.lock is Lock.PADLOCK:
        return f"Unlock the {switch.name} and line it"
    if stage == "irregular":
        return f"Unlock the {switch.name} and look at it"
    return f"Line the {switch.name} for the spur"


def _close_switch(switch: Switch, stage: str) -> str:
    if switch.lock is Lock.NONE:
        return f"Line the {switch.name} for the main"
    match stage:
        case "restored" | "unlocked":
            return f"Lock the {switch.name}"
        case "irregular":
            return f"Unlock the {switch.name} and put it right"
        case _:
            return f"Line the {switch.name} for the main and lock it"


def _gate(gate: Gate, opening: bool) -> str:
    locked = gate.hasp is not None
    if opening:
        return f"Unlock and open the {gate.name}" if locked else f"Open the {gate.name}"
    return f"Shut and lock the {gate.name}" if locked else f"Shut the {gate.name}"


def _derail(derail: Derail, opening: bool) -> str:
    if opening:
        return f"Take the {derail.name} off the rail"
    lock = " and lock it" if derail.hasp is not None else ""
    return f"Put the {derail.name} back on the rail{lock}"


def _chock(chock: Chock, opening: bool) -> str:
    if opening:
        return f"Hang the {chock.name} in its rack"
    return f"Set the {chock.name} against a wheel"


COMMANDS = {
    "release": "Release",
    "hold": "Not yet",
    "hand-back": "Hand back",
    "ask": "Ask",
    "work-done": "Work done",
    "start-brake-test": "Start brake test",
}
"""What the buttons of the commands that name a spur are labelled."""


def fitting_commands(job: Job, spur: Spur | None) -> tuple[str, ...]:
    """The commands for which the board's row has buttons now: the foreman's part, no more."""
    if spur is None or spur.foreman is ForemanKind.NONE:
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
