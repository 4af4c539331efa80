"""What a crew may ask for with its link, and what it may not. Pure.

``drawn`` is the job's page as it was last drawn: what is refused here has no button there.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Annotated, Any

import msgspec

from firmware_py.logbook.screen.ticks import Step
from web.asks import AskError, Text

COMMANDS = ("ask", "work-done", "hand-back", "start-brake-test")
MOST_STOPS = 1_000
Drawn = Mapping[str, Any]


class CrewOrder(msgspec.Struct, forbid_unknown_fields=True):
    """A command for the job's current spur; ``cars`` goes with a brake test only."""

    command: Text
    spur: Text | None = None
    cars: Annotated[int, msgspec.Meta(ge=1, le=500)] | None = None


class CrewTick(msgspec.Struct, forbid_unknown_fields=True):
    """One of the crew's own steps at a stop, which counts from 0."""

    stop: Annotated[int, msgspec.Meta(ge=0, le=MOST_STOPS)]
    step: Step


def judge_order(body: CrewOrder, drawn: Drawn) -> str:
    """The spur that an order is for. Raises ``AskError`` unless this crew may give it here."""
    if body.command not in COMMANDS:
        raise AskError(403, f"a crew can't order {body.command}; that is for the host")
    at = _at(drawn)
    if drawn["at"] is None:
        raise AskError(409, f"this layout has no spur {at['spur']}; go on to the next stop")
    if body.spur not in {None, at["spur"]}:
        raise AskError(403, f"this link works at {at['name']} just now, and nowhere else")
    _judge_turn(drawn)
    brake_test = body.command == "start-brake-test"
    if brake_test and body.cars is None:
        raise AskError(400, 'start-brake-test needs the number of cars, such as "cars": 3')
    if not brake_test and body.cars is not None:
        raise AskError(400, f"{body.command} takes no cars; only start-brake-test does")
    return str(at["spur"])


def judge_tick(body: CrewTick, drawn: Drawn) -> None:
    """Raise ``AskError`` unless the crew may make this tick now."""
    at = _at(drawn)
    homewards = body.step is Step.REAR and body.stop == len(drawn["stops"])
    if body.stop != at["stop"] and not homewards:
        raise AskError(403, f"the job is at stop {at['stop'] + 1} now; tick what is done there")
    offered = any(action.get("step") == body.step for action in drawn["actions"])
    if not offered:
        _judge_turn(drawn)


def judge_back(body: CrewTick, drawn: Drawn) -> None:
    """Raise ``AskError`` unless the crew may take such a tick back."""
    _judge_open(drawn)
    if body.stop > len(drawn["stops"]):
        raise AskError(404, f"this job has no stop {body.stop + 1}")


def _judge_open(drawn: Drawn) -> None:
    head = drawn["head"]
    if not head["live"]:
        raise AskError(409, "the engine does not answer; nothing was asked")
    if not head["opened"]:
        raise AskError(409, "the host has not opened the session yet")


def _at(drawn: Drawn) -> dict[str, Any]:
    _judge_open(drawn)
    at: dict[str, Any] | None = drawn["at"]
    if at is None:
        stop = _lost_stop(drawn)
        if stop is None:
            raise AskError(409, "every stop of this job is behind it")
        return stop
    return at


def _lost_stop(drawn: Drawn) -> dict[str, Any] | None:
    """A current stop whose spur this layout does not have."""
    for stop in drawn["stops"]:
        if stop["state"] == "current":
            return {"stop": stop["stop"], "spur": stop["spur"], "name": stop["name"]}
    return None


def _judge_turn(drawn: Drawn) -> None:
    if drawn["next"]["id"] == "other-crew":
        raise AskError(
            403, f"{drawn['next']['says']}; wait for your turn".replace("The ", "the ", 1)
        )
