"""The foreman's desk: every spur that waits for the host's answer, the longest wait first."""

from __future__ import annotations

from typing import Any

from firmware_py.layout.model import Spur
from web.live.board import Board, Work
from web.live.crews import AtWork, called, crews_at
from web.live.plan import Plan
from web.live.steps import COMMANDS, fitting_commands

_ASKS = {
    "asked": "asks for its spur",
    "held": "was told not yet",
    "released": "is done and hands its spur back",
}


def desk_view(
    plan: Plan, board: Board, working: tuple[AtWork, ...], *, live: bool
) -> list[dict[str, Any]]:
    """What waits: ``spur``, ``name``, ``word``, ``says``, ``crew``, ``since_us``, ``commands``.

    Empty while the engine does not guard: nothing could be answered then. A spur that was told
    not yet comes after those that were told nothing.
    """
    if not live:
        return []
    waits = [_wait(spur, board.work.get(spur.id, Work()), working) for spur in plan.layout.spurs]
    return sorted((one for one in waits if one), key=_urgency)


def _urgency(wait: dict[str, Any]) -> tuple[bool, int]:
    return wait["word"] == "held", wait["since_us"]


def _wait(spur: Spur, work: Work, working: tuple[AtWork, ...]) -> dict[str, Any]:
    commands = fitting_commands(work, spur)
    if not commands:
        return {}
    return {
        "spur": spur.id,
        "name": spur.name,
        "word": "back" if work.foreman == "released" else work.foreman,
        "says": _ASKS[work.foreman],
        "crew": _crew(spur.id, working),
        "since_us": work.since_us if work.foreman == "released" else work.asked_us,
        "commands": [{"command": command, "says": COMMANDS[command]} for command in commands],
    }


def _crew(spur: str, working: tuple[AtWork, ...]) -> str:
    named = crews_at(spur, working)
    return " or ".join(called(one["name"], one["crew"]) for one in named)
