"""Plain SVG in millimetres, for diagrams that are tables of pins rather than circuits."""

from __future__ import annotations

from html import escape

from firmware_py.book.canvas import FONT, MIDDLE
from firmware_py.layout.errors import printable

ADVANCE = 0.62
"""How wide a letter is at most on average, as a share of its size (bold sans-serif)."""

SMALLEST = 1.7
"""Millimetres below which letters are squeezed rather than made smaller still."""


class Plate:
    """An ``svg`` element while it is made; x goes right and y goes down."""

    def __init__(self, wide: float, high: float, describe: str) -> None:
        self._wide, self._high, self._describe = wide, high, describe
        self._parts: list[str] = []

    def rect(  # noqa: PLR0913  # A rectangle is four numbers.
        self, x: float, y: float, wide: float, high: float, *, fill: str = "#fff", line: float = 0.3
    ) -> None:
        """A rectangle from its upper left corner."""
        self._parts.append(
            f'<rect x="{_mm(x)}" y="{_mm(y)}" width="{_mm(wide)}" height="{_mm(high)}" '
            f'fill="{fill}" stroke="#000" stroke-width="{_mm(line)}"/>'
        )

    def line(self, x0: float, y0: float, x1: float, y1: float, *, wide: float = 0.3) -> None:
        """A line."""
        self._parts.append(
            f'<path d="M{_mm(x0)} {_mm(y0)}L{_mm(x1)} {_mm(y1)}" fill="none" stroke="#000" '
            f'stroke-width="{_mm(wide)}"/>'
        )

    def arc(self, x: float, y: float, radius: float) -> None:
        """A half circle that hangs down from y: the notch of a chip."""
        self._parts.append(
            f'<path d="M{_mm(x - radius)} {_mm(y)}a{_mm(radius)} {_mm(radius)} 0 0 0 '
            f'{_mm(2 * radius)} 0" fill="#fff" stroke="#000" stroke-width="0.3"/>'
        )

    def words(  # noqa: PLR0913  # All but the text and its place may be left out.
        self,
        x: float,
        y: float,
        text: str,
        *,
        size: float = 3.0,
        anchor: str = "start",
        bold: bool = False,
        fill: str = "#000",
        room: float | None = None,
    ) -> None:
        """A line of text whose middle is at y, made smaller where it has less ``room``."""
        text = printable(text)
        squeeze = ""
        if room is not None and len(text) * size * ADVANCE > room:
            size = max(SMALLEST, room / (len(text) * ADVANCE))
            if len(text) * size * ADVANCE > room + 0.01:
                squeeze = f' textLength="{_mm(room)}" lengthAdjust="spacingAndGlyphs"'
        weight = ' font-weight="700"' if bold else ""
        self._parts.append(
            f'<text x="{_mm(x)}" y="{_mm(y + size * MIDDLE)}" font-size="{_mm(size)}" '
            f'font-family="{FONT}" text-anchor="{anchor}" fill="{fill}"{weight}{squeeze}>'
            f"{escape(text, quote=False)}</text>"
        )

    def svg(self) -> str:
        """The element, on white."""
        wide, high = _mm(self._wide), _mm(self._high)
        return (
            f'<svg xmlns="http://www.w3.org/2000/svg" width="{wide}mm" height="{high}mm" '
            f'viewBox="0 0 {wide} {high}" role="img" aria-label="{escape(self._describe)}">'
            f'<rect width="{wide}" height="{high}" fill="#fff"/>{"".join(self._parts)}</svg>'
        )


def _mm(value: float) -> str:
    return f"{round(value, 2) + 0.0:.2f}".rstrip("0").rstrip(".")
