"""SVG from small pure functions. Text is escaped; what things look like is the style sheet's.

Nothing here needs an inline style, so the pages' strict content policy can stand. Colours are
never the only sign: what is filled has a pattern, and what is marked has a number or a word.
"""

from __future__ import annotations

from collections.abc import Iterable

from markupsafe import Markup, escape

Value = str | int | float | None


def tag(name: str, *children: Markup | str, **attributes: Value) -> Markup:
    """An element. ``class_`` is ``class`` and ``_`` is ``-``; an attribute of ``None`` is none.

    >>> tag("text", "a < b", x=1.25, class_="axis")
    Markup('<text x="1.25" class="axis">a &lt; b</text>')
    """
    parts = ["<", name]
    for key, value in attributes.items():
        if value is not None:
            written = escape(value) if isinstance(value, str) else _number(value)
            parts.append(f' {key.rstrip("_").replace("_", "-")}="{written}"')
    parts.append(">")
    parts.extend(escape(child) for child in children)
    parts.append(f"</{name}>")
    return Markup("".join(parts))  # Each part is a name of ours, or escaped.


def _number(value: int | float) -> str:
    return f"{value:.2f}".rstrip("0").rstrip(".") if isinstance(value, float) else str(value)


def joined(parts: Iterable[Markup]) -> Markup:
    """Elements one after another."""
    return Markup("".join(parts))


def svg(width: float, height: float, label: str, *children: Markup, class_: str = "") -> Markup:
    """A drawing that a screen reader reads as one picture, named by ``label``."""
    return tag(
        "svg",
        tag("title", label),
        *children,
        viewBox=f"0 0 {_number(width)} {_number(height)}",
        class_=f"plot {class_}".strip(),
        role="img",
        aria_label=label,
        focusable="false",
    )


def box(x: float, y: float, width: float, height: float, class_: str, **more: Value) -> Markup:
    """A rectangle, never so narrow that it can't be seen."""
    return tag("rect", x=x, y=y, width=max(width, 1.2), height=height, class_=class_, **more)


def line(x1: float, y1: float, x2: float, y2: float, class_: str) -> Markup:
    """A straight line."""
    return tag("line", x1=x1, y1=y1, x2=x2, y2=y2, class_=class_)


def text(x: float, y: float, words: str, class_: str = "", anchor: str | None = None) -> Markup:
    """Words with their baseline at ``y``; ``anchor`` is ``middle`` or ``end``."""
    return tag("text", words, x=x, y=y, class_=class_ or None, text_anchor=anchor)


def titled(words: str, *children: Markup) -> Markup:
    """A group that tells its words where it is pointed at."""
    return tag("g", tag("title", words), *children)


LETTER = 7.2
"""About the width of a letter of the plots' 13 units of type."""


def fits(words: str, width: float, letter: float = LETTER) -> bool:
    """Whether words fit into a width, with some air."""
    return len(words) * letter + 6 <= width


def shortened(words: str, width: float, letter: float = LETTER) -> str:
    """Words cut to a width, which an ellipsis then tells.

    >>> shortened("Lamp-oil dock", 60)
    'Lamp-oi…'
    """
    most = max(1, int(width / letter))
    return words if len(words) <= most else words[: most - 1].rstrip() + "…"


def patterns(prefix: str) -> Markup:
    """The patterns that bands are filled with; their ids begin with ``prefix``."""
    return tag(
        "defs",
        _pattern(prefix, "unlocked", 8, tag("circle", cx=4, cy=4, r=1.6, class_="ink-amber")),
        _pattern(prefix, "lined", 9, _slash(9, "line-amber")),
        _pattern(prefix, "restored", 7, line(2, 0, 2, 7, "line-green")),
        _pattern(prefix, "irregular", 9, _slash(9, "line-red"), _slash(9, "line-red", back=True)),
        _pattern(prefix, "foreman", 6, line(0, 2, 6, 2, "line-blue")),
        _pattern(prefix, "brake-test", 7, _slash(7, "line-blue", back=True)),
    )


def _pattern(prefix: str, name: str, size: int, *marks: Markup) -> Markup:
    ground = tag("rect", width=size, height=size, class_=f"ground-{name}")
    ident, units = f"{prefix}-{name}", "userSpaceOnUse"
    return tag("pattern", ground, *marks, id=ident, width=size, height=size, patternUnits=units)


def _slash(size: int, class_: str, *, back: bool = False) -> Markup:
    """A slanting line that meets itself where the pattern repeats."""
    half = size / 2
    ends = [(0, size, size, 0), (-half, half, half, -half), (half, size + half, size + half, half)]
    drawn = [
        (size - x1, y1, size - x2, y2) if back else (x1, y1, x2, y2) for x1, y1, x2, y2 in ends
    ]
    return joined(line(*one, class_) for one in drawn)
