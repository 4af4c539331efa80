"""Commands and the push button (section 8)."""

from __future__ import annotations

from typing import Any

from .plan import to_us
from .state import Event, State


def reason_against(state: State, name: str, spur: str) -> str | None:
    """Look up the column "makes sense when"; None where it does."""
    its = state.spurs[spur]
    if name == "ask":
        if not state.plan.has_foreman(spur):
            return None if its.phase == "idle" else "the spur is not idle"
        return None if its.foreman == "not-asked" else "the foreman is asked already"
    if name == "hold":
        return None if its.foreman == "asked" else "nobody is waiting for an answer"
    if name == "release":
        return None if its.foreman in ("asked", "held") else "nobody asked"
    if name == "hand-back":
        return None if its.foreman == "released" else "the spur is not the crew's"
    if name == "work-done":
        return None if its.phase in ("opening", "working") else "no work goes on"
    if its.test_until is not None:
        return "a test runs already"
    return None if its.phase != "idle" else "the spur is idle"


def obey(state: State, event: Event, name: str, spur: str, line: dict[str, Any]) -> None:
    """Do what the column "does" says, as far as it is not a phase (see `effects.py`)."""
    its = state.spurs[spur]
    its.command_at = event.t
    if name == "ask":
        event.asked.add(spur)
        if state.plan.has_foreman(spur):
            its.foreman = "asked"
    elif name == "hold":
        its.foreman = "held"
    elif name == "release":
        its.foreman = "released"
        event.released.add(spur)
    elif name == "hand-back":
        its.foreman = "not-asked"
        event.handed_back.add(spur)
    elif name == "work-done":
        event.work_done.add(spur)
    else:
        # Section 11 [D]: filling the pipe, then fifty seconds of leakage wait.
        cars = line["cars"]
        seconds = (cars * 0.3065 * 60 + 50) / state.plan.clock_ratio
        its.test_until = event.t + to_us(seconds)
        said = {"what": "brake-test", "spur": spur, "is": "running", "cars": cars}
        event.say({**said, "seconds": round(seconds, 3)})


def acknowledge(state: State, event: Event, number: int) -> None:
    """Accept it when "the violation exists and is not acknowledged"."""
    for violation in state.violations:
        if violation.number == number and not violation.acknowledged:
            violation.acknowledged = True
            return
    why = "no such violation, or acknowledged already"
    said = {"what": "refused", "command": "acknowledge", "violation": number, "why": why}
    event.say(said)


def command(state: State, event: Event, line: dict[str, Any]) -> None:
    """Obey a command of the tape, or refuse it with the reason."""
    name = line["command"]
    if name == "acknowledge":
        acknowledge(state, event, line["violation"])
        return
    spur = line["spur"]
    reason = reason_against(state, name, spur)
    if reason is None:
        obey(state, event, name, spur, line)
    else:
        event.say({"what": "refused", "command": name, "spur": spur, "why": reason})


def press(state: State, event: Event, switch: str) -> None:
    """Take a button as `ask` for an idle spur, `work-done` for an opening or working one."""
    spur = state.plan.first_spur(switch)
    if spur is None:
        return
    phase = state.spurs[spur].phase
    if phase == "idle":
        obey(state, event, "ask", spur, {})
    elif phase in ("opening", "working"):
        obey(state, event, "work-done", spur, {})
