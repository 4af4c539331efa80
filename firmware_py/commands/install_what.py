"""What ``spurlock install`` is to install: a box by its layout, or a board host by its file."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

from firmware_py.club.credentials import ClubError
from firmware_py.gathering.board_file import read_board
from firmware_py.install.clubs import club_of, database_of
from firmware_py.install.errors import InstallError
from firmware_py.install.places import Box
from firmware_py.layout.electrics import ChipKind
from firmware_py.layout.model import Layout
from firmware_py.layout.reading import parse_layout

BUSES = {ChipKind.MCP23017: "i2c", ChipKind.MCP23S17: "spi"}


@dataclass(frozen=True, slots=True)
class What:
    """The box to be, the text of the file that describes it, and its layout if it guards one."""

    box: Box
    text: str
    folder: Path
    layout: Layout | None


def what_of(
    layout: Path | None, board: Path | None, address: tuple[str, int], *, wall_screen: bool
) -> What:
    """Read the one file or the other. Raises ``InstallError`` and ``LayoutError``."""
    if board is not None and layout is None:
        return _board(board, address, wall_screen=wall_screen)
    if layout is None or board is not None:
        raise InstallError("name a layout, or a board's file with --board: one of the two")
    text = _text(layout, "layout file; spurlock new writes one")
    parsed = parse_layout(text, str(layout))
    club = None if parsed.node is None else club_of(parsed.node, layout.parent)
    box = Box(*address, buses(parsed), wall_screen, club)
    return What(box, text, layout.parent, parsed)


def buses(layout: Layout) -> tuple[str, ...]:
    """The buses that the layout's chips hang on."""
    return tuple(sorted({BUSES[chip.kind] for chip in layout.chips if chip.kind in BUSES}))


def _board(path: Path, address: tuple[str, int], *, wall_screen: bool) -> What:
    text = _text(path, "board's file; spurlock board --help shows one")
    try:
        board = read_board(path)
    except ClubError as error:
        raise InstallError(str(error)) from error
    club = club_of(board.node, path.parent)
    box = Box(*address, (), wall_screen, club, database_of(board))
    return What(box, text, path.parent, None)


def _text(path: Path, kind: str) -> str:
    try:
        return path.read_text("utf-8")
    except FileNotFoundError:
        raise InstallError(f"{path}: there is no such {kind}") from None
    except (OSError, UnicodeError) as error:
        raise InstallError(f"{path}: it can't be read: {error}") from error
