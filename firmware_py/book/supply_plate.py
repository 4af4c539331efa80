"""The supplies with their fuses, and the one point where all grounds meet."""

from __future__ import annotations

from collections.abc import Sequence

from firmware_py.book.style import WIDE_MM
from firmware_py.book.supplies import Supply
from firmware_py.book.svg import Plate
from firmware_py.wiring.figure import plain

WIDE, STEP = WIDE_MM - 2, 30.0


def supply_svg(supplies: Sequence[Supply]) -> str:
    """A row for the Pi's own supply, and one for each other."""
    high = STEP * (len(supplies) + 1) + 14
    plate = Plate(WIDE, high, "Each supply with its fuses and loads; all grounds meet at one point")
    rows: list[tuple[str, str, str, str]] = [
        ("Pi's own supply", "5.1 V, listed", "", "the Pi, by its power socket"),
        *(
            (
                f"{supply.volts:g} V, listed",
                f"{plain(supply.amperes, 'A')} or more",
                f"{supply.branches} x fuse {supply.fuse_a:g} A",
                supply.use if supply.branches == 1 else f"{supply.use}, {supply.branches} branches",
            )
            for supply in supplies
        ),
    ]
    for number, row in enumerate(rows):
        _supply(plate, number * STEP, row)
    end = STEP * len(rows)
    plate.line(14, 22, 14, end + 4, wide=0.8)
    plate.rect(2, end + 4, 60, 8, line=0.8)
    plate.words(32, end + 8, "one point: all grounds", anchor="middle", bold=True, size=3.3)
    return plate.svg()


def _supply(plate: Plate, y: float, row: tuple[str, str, str, str]) -> None:
    name, size, fuse, loads = row
    plate.rect(22, y + 2, 46, 16, line=0.6)
    plate.words(45, y + 7.5, name, anchor="middle", bold=True, size=3.5, room=44)
    plate.words(45, y + 13, size, anchor="middle", size=3.2, room=44)
    plate.words(70, y + 4, "+", size=4)
    if not fuse:
        plate.line(68, y + 7, 128, y + 7, wide=0.5)
    else:
        plate.line(68, y + 7, 79, y + 7, wide=0.5)
        plate.line(117, y + 7, 128, y + 7, wide=0.5)
        plate.rect(79, y + 4, 38, 6, line=0.5)
        plate.words(98, y + 7, fuse, anchor="middle", size=3.3, room=36)
    plate.rect(128, y + 2, 48, 16, line=0.5)
    plate.words(152, y + 10, loads, anchor="middle", size=3.5, room=46)
    plate.line(14, y + 22, 152, y + 22, wide=0.5)
    plate.line(45, y + 18, 45, y + 22, wide=0.5)
    plate.words(47, y + 20, "-", size=4)
    plate.line(152, y + 18, 152, y + 22, wide=0.5)
