"""Pieces of HTML; everything that comes from a layout file is escaped here."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from html import escape

from firmware_py.book.colours import SHADES, Colour
from firmware_py.layout.errors import printable


def text(words: str) -> str:
    """Words as HTML: control characters written out, and nothing of them a tag."""
    return escape(printable(words))


def caution(*lines: str, title: str = "Caution") -> str:
    """A framed caution."""
    if len(lines) == 1:
        return f'<p class="caution"><b>{text(title)}</b> {text(lines[0])}</p>'
    items = "".join(f"<li>{text(line)}</li>" for line in lines)
    return f'<div class="caution"><b>{text(title)}</b><ul>{items}</ul></div>'


def section(title: str, *parts: str, key: str) -> str:
    """A section, which begins on a page of its own; ``key`` says what it is to a test."""
    inside = "\n".join(part for part in parts if part)
    return f'<section data-part="{key}">\n<h2>{text(title)}</h2>\n{inside}\n</section>'


def figure(caption: str, svg: str) -> str:
    """A drawing under its caption, which is HTML already."""
    return f"<figure><figcaption>{caption}</figcaption>{svg}</figure>"


def table(
    head: Sequence[tuple[str, str]], rows: Iterable[Sequence[str]], key: str, title: str = ""
) -> str:
    """A table of cells that are HTML already; a column is its title and width.

    ``title`` stands above the columns' titles, and with them again on each further page.
    """
    over = f'<tr><th class="over" colspan="{len(head)}">{text(title)}</th></tr>' if title else ""
    columns = "".join(f'<col style="width:{width}">' for _, width in head)
    titles = "".join(f'<th scope="col">{text(title)}</th>' for title, _ in head)
    body = "\n".join(f"<tr>{''.join(row)}</tr>" for row in rows)
    return (
        f'<table data-table="{key}"><colgroup>{columns}</colgroup>'
        f"<thead>{over}<tr>{titles}</tr></thead>\n<tbody>{body}</tbody></table>"
    )


def cell(inside: str, kind: str = "") -> str:
    """A cell of HTML."""
    return f'<td class="{kind}">{inside}</td>' if kind else f"<td>{inside}</td>"


def patch(colour: Colour) -> str:
    """A wire's colour, as a patch and in words."""
    shade = SHADES[colour]
    return (
        f'<span class="wire"><span class="patch" style="background:{shade}"></span>'
        f"{text(colour.value)}</span>"
    )
