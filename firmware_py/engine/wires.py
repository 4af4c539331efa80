"""The wires, taken before all else: red is lit while the rest of the engine is still loading.

Nothing here loads the logbook and its libraries, which take most of a start.
"""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

from firmware_py.layout.model import Layout
from firmware_py.layout.reading import parse_layout
from firmware_py.pins.board import Board
from firmware_py.pins.chardev import CharDevFactory
from firmware_py.pins.expanders.choosing import LayoutFactory, factory_for
from firmware_py.pins.mock import SimulatedFactory


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


def take_wires(layout_file: Path, *, simulated: bool) -> Wires:
    """Read a layout and take its wires.

    Raises ``LayoutError`` and ``PinsError``, and ``OSError`` for a file that can't be read.
    """
    text = layout_file.read_text(encoding="utf-8")
    layout = parse_layout(text, str(layout_file))
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
