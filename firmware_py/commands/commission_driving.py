"""Driving one output of a board, all others being off, for a builder to look at."""

from __future__ import annotations

from firmware_py.core.names import Shows
from firmware_py.pins.board import Board

_ON = {"bolt": Shows.DRAWN, "power": Shows.ON, "buzzer": Shows.ON}
_OFF = {"bolt": Shows.SHUT}


def show_only(board: Board, drive: tuple[str, str] | None) -> None:
    """Energise one output by ``(thing, output)``, or none; every other is de-energised first."""
    for of, output in board.outputs:
        if (of, output) != drive:
            board.show(of, output, _OFF.get(output, Shows.OFF))
    if drive is not None:
        board.show(*drive, _ON.get(drive[1], Shows.STEADY))
