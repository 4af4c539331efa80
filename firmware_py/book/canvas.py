"""What every circuit is drawn with: schemdraw, and SVG that is the same text on every machine.

Points are in schemdraw's units, of which one is half an inch here; y goes up.
"""

from __future__ import annotations

import re
from html import escape
from itertools import pairwise

import schemdraw
from schemdraw import elements as elm
from schemdraw.segments import Segment, SegmentPoly, SegmentText

schemdraw.use("svg")
schemdraw.svgconfig.text = "text"  # Letters as letters, whether or not ziamath is installed.

Point = tuple[float, float]

FONT = "Liberation Sans, Arial, Helvetica, sans-serif"
SIZE, SMALL = 11, 9
"""Points."""

MIDDLE = 0.35
"""How far below the middle of a line its baseline is, as a share of its size."""

POINTS_PER_MM = 72 / 25.4

SHOWN = 0.78
"""How large a drawing is shown: so that three of them fit on a page."""

_NUMBER = re.compile(r"(?<![\w#.>])-?\d+\.\d+(?:e-?\d+)?|(?<![\w#.>\d])-0(?![.\d])")
"""Numbers of a drawing, never those of its words: text begins right after a tag."""
_TEXT = re.compile(
    r'<text x="(?P<x>[^"]*)" y="(?P<y>[^"]*)" dominant-baseline="central" fill="black" '
    r'font-size="(?P<size>[^"]*)" font-family="sans" text-anchor="(?P<anchor>\w+)">'
    r'<tspan [^>]*dy="(?P<down>[^"]*)">(?P<text>[^<]*)</tspan></text>'
)
_ROOT = re.compile(r'<svg[^>]*viewBox="([^"]*)"[^>]*>')


class Canvas:
    """A circuit while it is drawn."""

    def __init__(self) -> None:
        self._drawing = schemdraw.Drawing(show=False)
        self._drawing.config(unit=2, fontsize=SIZE, font="sans-serif", lw=1.5, margin=0.15)

    def line(self, *points: Point, dashed: bool = False) -> None:
        """A line through all points."""
        for start, end in pairwise(points):
            line = elm.Line().at(start).to(end)
            self._drawing.add(line.linestyle("--") if dashed else line)

    def part(self, element: elm.Element, start: Point, end: Point) -> None:
        """A part with two ends, its leads drawn as long as is needed."""
        if not isinstance(element, elm.Element2Term):
            raise TypeError(f"{element} has not two ends")
        self._drawing.add(element.at(start).to(end))

    def add(self, element: elm.Element) -> elm.Element:
        """Any other element; the answer is the element with its anchors placed."""
        placed: elm.Element = self._drawing.add(element)
        return placed

    def dot(self, at: Point, *, open_: bool = False) -> None:
        """A joint, or a terminal if it is open."""
        self._drawing.add(elm.Dot(open=open_).at(at))

    def ground(self, at: Point) -> None:
        """Ground."""
        self._drawing.add(elm.Ground().at(at))

    def plus(self, at: Point, text: str) -> None:
        """A supply, named above its bar."""
        self._drawing.add(elm.Vdd().at(at))
        self.words((at[0], at[1] + 0.68), text, align="center")

    def box(self, low: Point, high: Point, *, dashed: bool = False) -> None:
        """A rectangle between two corners."""
        (x0, y0), (x1, y1) = low, high
        frame = elm.Element()
        frame.segments.append(
            SegmentPoly(
                [(x0, y0), (x1, y0), (x1, y1), (x0, y1)],
                closed=True,
                fill="white",
                ls="--" if dashed else "-",
                zorder=0,
            )
        )
        self._drawing.add(frame.at((0, 0)).theta(0))

    def words(self, at: Point, *lines: str, align: str = "left", small: bool = False) -> None:
        """Lines of text, the middle of their block at that point."""
        size = SMALL if small else SIZE
        step = size * 1.25 / 36
        top = at[1] + step * (len(lines) - 1) / 2
        block = elm.Element()
        for number, text in enumerate(lines):
            block.segments.append(
                SegmentText(
                    (at[0], top - number * step),
                    escape(text, quote=False),
                    align=(align, "center"),  # type: ignore[arg-type]  # Checked by the tests.
                    fontsize=size,
                    rotation_global=False,
                )
            )
        self._drawing.add(block.at((0, 0)).theta(0))

    def arrow(self, start: Point, end: Point) -> None:
        """A thin line with an arrow at its end."""
        shaft = elm.Element()
        shaft.segments.append(Segment([start, end], arrow="->", lw=1))
        self._drawing.add(shaft.at((0, 0)).theta(0))

    def svg(self, describe: str) -> str:
        """The drawing as an ``svg`` element on white; ``describe`` is read out in its place."""
        raw = self._drawing.get_imagedata("svg").decode("utf-8")
        raw = raw.replace("stroke-dasharray:-;", "").replace("&#160;", "\N{NO-BREAK SPACE}")
        root = _ROOT.search(raw)
        if root is None:
            raise AssertionError("schemdraw wrote no svg element with a view box")
        left, top, wide, high = (float(number) for number in root[1].split())
        body = _NUMBER.sub(_rounded, _TEXT.sub(_text, raw[root.end() :]))
        view = " ".join(_plain(number) for number in (left, top, wide, high))
        shown = [_plain(points * SHOWN / POINTS_PER_MM) for points in (wide, high)]
        size = f'width="{shown[0]}mm" height="{shown[1]}mm"'
        back = (
            f'<rect x="{_plain(left)}" y="{_plain(top)}" width="{_plain(wide)}" '
            f'height="{_plain(high)}" fill="#fff"/>'
        )
        return (
            f'<svg xmlns="http://www.w3.org/2000/svg" {size} viewBox="{view}" role="img" '
            f'aria-label="{escape(describe)}">{back}{body.strip()}'
        )


def _text(match: re.Match[str]) -> str:
    """A line of text that sits right in viewers without ``dominant-baseline`` too."""
    size = float(match["size"])
    baseline = float(match["y"]) + float(match["down"]) + size * MIDDLE
    return (
        f'<text x="{match["x"]}" y="{baseline}" font-size="{match["size"]}" '
        f'font-family="{FONT}" text-anchor="{match["anchor"]}">{match["text"]}</text>'
    )


def _rounded(match: re.Match[str]) -> str:
    return _plain(float(match[0]))


def _plain(number: float) -> str:
    """Two decimals at most: the last bits of a float differ between machines."""
    return f"{round(number, 2) + 0.0:.2f}".rstrip("0").rstrip(".")
