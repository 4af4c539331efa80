"""Puts the book together: one HTML text that needs nothing else, the same for the same layout."""

from __future__ import annotations

from firmware_py import __version__
from firmware_py.book.cautions import FOOT
from firmware_py.book.html import text
from firmware_py.book.parts import parts_of
from firmware_py.book.rows import rows_of
from firmware_py.book.sheets import (
    chip_sheets,
    circuit_sheets,
    driver_sheets,
    first_sheet,
    header_sheet,
    parts_sheet,
    supply_sheet,
)
from firmware_py.book.stand_sheets import stand_sheets
from firmware_py.book.style import Paper, style
from firmware_py.book.supplies import supplies_of
from firmware_py.layout.model import Layout
from firmware_py.wiring.checks import electrical_figures, faults_of
from firmware_py.wiring.wires import wires_of

POLICY = "default-src 'none'; style-src 'unsafe-inline'"
"""Nothing is fetched, and nothing runs."""


class NotPlannedError(ValueError):
    """A layout whose wires don't all have a pin; ``wires`` names those that have none."""

    def __init__(self, wires: tuple[str, ...]) -> None:
        self.wires = wires
        super().__init__(f"{len(wires)} wires have no pin yet")


def wiring_book(layout: Layout, file: str, paper: Paper = Paper.A4) -> str:
    """The book of a layout; ``file`` is the name that it gives the layout's file.

    Raises `NotPlannedError`.
    """
    wires = wires_of(layout)
    waiting = tuple(wire.name for wire in wires if wire.pin is None)
    if waiting:
        raise NotPlannedError(waiting)
    rows = rows_of(layout)
    supplies = supplies_of(wires, layout)
    sheets = (
        first_sheet(layout, file, rows, faults_of(electrical_figures(layout))),
        supply_sheet(supplies),
        header_sheet(layout, rows),
        *chip_sheets(layout, rows),
        *driver_sheets(rows),
        *circuit_sheets(rows),
        *stand_sheets(layout, rows),
        parts_sheet(parts_of(layout, rows, supplies)),
    )
    return (
        '<!doctype html>\n<html lang="en">\n<head>\n<meta charset="utf-8">\n'
        f'<meta http-equiv="Content-Security-Policy" content="{POLICY}">\n'
        '<meta name="viewport" content="width=device-width, initial-scale=1">\n'
        '<meta name="color-scheme" content="light only">\n'
        f'<meta name="generator" content="spurlock {text(__version__)}">\n'
        f"<title>Wiring of {text(layout.name)}</title>\n<style>{style(paper)}</style>\n"
        "</head>\n<body>\n"
        + "\n".join(sheets)
        + f'\n<p class="screen">{text(FOOT)}</p>\n</body>\n</html>\n'
    )
