"""Wiring faults in words: what it is, where, and what to look at. Never a crew's doing."""

from __future__ import annotations

from typing import Any

from web.live.board import Board
from web.live.plan import Plan

_SAYS = {
    "points-disputed": (
        "Points read both ways",
        "{at} reads normal and reverse at once. Look for a stuck or bridged contact.",
    ),
    "chattering": (
        "Contact chatters",
        "{at} opens and closes too fast to believe. Look for a loose wire or a dirty contact.",
    ),
    "lost": (
        "Contact lost",
        "{at} does not answer. Look at its cable, its supply and its chip.",
    ),
}


def open_faults(board: Board, plan: Plan) -> list[dict[str, Any]]:
    """The faults that stand now, the latest first."""
    return [
        {
            "fault": fault,
            "at": at,
            "row": next(iter(plan.rows_of(at)), None),
            "since_us": since_us,
            "title": fault_title(fault),
            "says": _text(fault, plan.name(at)),
        }
        for (fault, at), since_us in sorted(board.faults.items(), key=lambda item: -item[1])
    ]


def fault_title(fault: str) -> str:
    """A fault's short name."""
    return _SAYS[fault][0] if fault in _SAYS else fault.replace("-", " ").capitalize()


def faulty_rows(board: Board, plan: Plan) -> dict[str, list[str]]:
    """The titles of the faults that each row has to show."""
    found: dict[str, list[str]] = {}
    for fault, at in board.faults:
        for row in plan.rows_of(at):
            found.setdefault(row, []).append(fault_title(fault))
    return found


def _text(fault: str, at: str) -> str:
    _, says = _SAYS.get(fault, ("", "{at}: a fault this screen has no words for."))
    return says.format(at=at)
