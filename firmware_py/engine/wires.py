"""The wires, taken before all else: red is lit while the rest of the engine is still loading.

Nothing here loads the logbook and its libraries, which take most of a start.
"""

from __future__ import annotations

import time
from dataclasses import dataclass
from pathlib import Path

from firmware_py.layout.model import Layout
from firmware_py.layout.reading import parse_layout
from firmware_py.pins.board import Board
from firmware_py.pins.chardev import CharDevFactory
from firmware_py.pins.expanders.choosing import LayoutFactory, factory_for
from firmware_py.pins.mock import SimulatedFactory
from firmware_py.pins.wiring import NoHeaderError

AGAIN_AFTER_S = 0.2


@dataclass(frozen=True, slots=True)
class Wires:
    """A layout, its file's text, and its wires: red steadily lit, all else unenergised.

    ``simulated`` is the factory of simulated pins, where these are.
    """

    layout: Layout
    toml: str
    board: Board
    factory: CharDevFactory | LayoutFactory | SimulatedFactory
    simulated: SimulatedFactory | None

    def close(self) -> None:
        """Make safe, and give all pins back. Never raises on account of a pin."""
        self.board.close()
        self.factory.close()


def take_wires(layout_file: Path, *, simulated: bool, header_within_s: float = 0.0) -> Wires:
    """Read a layout and take its wires.

    A header that is not there, or not ours, is waited for at most ``header_within_s`` seconds:
    while a machine boots, its chips are handed out when others have begun already.
    Raises ``LayoutError`` and ``PinsError``, and ``OSError`` for a file that can't be read.
    """
    text = layout_file.read_text(encoding="utf-8")
    layout = parse_layout(text, str(layout_file))
    until_s = time.monotonic() + header_within_s
    while True:
        try:
            return _taken(layout, text, simulated=simulated)
        except NoHeaderError:
            if time.monotonic() >= until_s:
                raise
            time.sleep(AGAIN_AFTER_S)


def _taken(layout: Layout, text: str, *, simulated: bool) -> Wires:
    mock = SimulatedFactory() if simulated else None
    if mock is not None:
        mock.rest(layout.contacts)
    factory = mock or factory_for(layout.chips, CharDevFactory())
    try:
        board = Board(layout, factory)
    except BaseException:
        factory.close()  # Another chip's lines may be requested already.
        raise
    board.safe()
    return Wires(layout, text, board, factory, mock)
