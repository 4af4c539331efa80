"""The book as Chromium lays it out and prints it: nothing overlaps, nothing is cut."""

from __future__ import annotations

import os
import re
from collections.abc import Iterator
from itertools import combinations
from pathlib import Path
from typing import TYPE_CHECKING, Any

import pytest
from book_layouts import DEMO_FILE, LAYOUTS

from firmware_py.book.diagrams import diagrams
from firmware_py.book.making import wiring_book
from firmware_py.book.style import HIGH_MM, WIDE_MM, Paper
from firmware_py.commands.main import main

if TYPE_CHECKING:
    from playwright.sync_api import Browser, Page

CHROMIUM = Path("/usr/bin/chromium")
ARGUMENTS = ["--no-sandbox", "--disable-gpu", "--disable-dev-shm-usage"]
PX = 96 / 25.4
SLACK = 0.6
"""Pixels that a box of letters may reach into another's: its own empty edge."""

BOXES = """() => [...document.querySelectorAll('svg')].map(svg => ({
  view: svg.viewBox.baseVal.width ? [svg.viewBox.baseVal.x, svg.viewBox.baseVal.y,
    svg.viewBox.baseVal.width, svg.viewBox.baseVal.height] : null,
  texts: [...svg.querySelectorAll('text')].map(t => { const b = t.getBBox();
    return [t.textContent, b.x, b.y, b.width, b.height] }),
  lines: [...svg.querySelectorAll('path')].map(p => p.getAttribute('d')),
  shapes: [...svg.querySelectorAll('rect, path, polygon, circle')].map(t => { const b = t.getBBox();
    return [t.tagName, b.x, b.y, b.width, b.height] }),
}))"""

SPILLS = """() => [...document.querySelectorAll('td, th, h1, h2, h3, p, li, figcaption, .of span')]
  .filter(e => e.scrollWidth > e.clientWidth + 1 && getComputedStyle(e).display !== 'inline')
  .map(e => e.textContent)"""

TALL = """() => [...document.querySelectorAll('figure, tr, .caution')].map(e => [
  e.textContent.slice(0, 60), e.getBoundingClientRect().width, e.getBoundingClientRect().height])"""


@pytest.fixture(scope="module")
def browser() -> Iterator[Browser]:
    sync_api = pytest.importorskip("playwright.sync_api", reason="Playwright is not installed")
    # Where everything is said to be installed, a missing browser is a failure and no skip.
    if not CHROMIUM.exists() and "CI" not in os.environ:
        pytest.skip(f"there is no {CHROMIUM}")
    with sync_api.sync_playwright() as driver:
        browser = driver.chromium.launch(executable_path=str(CHROMIUM), args=ARGUMENTS)
        yield browser
        browser.close()


def opened(browser: Browser, html: str, path: Path) -> tuple[Page, list[str]]:
    """The page as it is printed, and what it asked for."""
    path.write_text(html, encoding="utf-8")
    page = browser.new_page(viewport={"width": round(210 * PX), "height": round(297 * PX)})
    asked: list[str] = []
    page.on("request", lambda request: asked.append(request.url))
    page.emulate_media(media="print")
    page.goto(path.as_uri())
    return page, asked


def see_drawings(drawings: list[dict[str, Any]]) -> None:
    assert drawings
    for drawing in drawings:
        left, top, wide, high = drawing["view"]
        for name, x, y, w, h in (*drawing["texts"], *drawing["shapes"]):
            assert x >= left - SLACK, name
            assert y >= top - SLACK, name
            assert x + w <= left + wide + SLACK, name
            assert y + h <= top + high + SLACK, name
        scale = 1 if wide > 200 else 0.25  # Plates are in millimetres, circuits in points.
        for one, other in combinations(drawing["texts"], 2):
            assert not overlap(one, other, SLACK * scale), (one[0], other[0])
        for line in drawing["lines"]:
            for text in drawing["texts"]:
                assert not crosses(line, text, 2 * scale), (text[0], line)


def overlap(one: list[Any], other: list[Any], slack: float) -> bool:
    _, x, y, w, h = one
    _, u, v, s, t = other
    return x + w - slack > u and u + s - slack > x and y + h - slack > v and v + t - slack > y


def crosses(path: str, text: list[Any], slack: float) -> bool:
    """Whether a straight stroke of the path runs through the text's box."""
    _, x, y, w, h = text
    low, high = (x + slack, y + slack), (x + w - slack, y + h - slack)
    if "a" in path or low[0] >= high[0] or low[1] >= high[1]:
        return False
    last: tuple[float, float] | None = None
    for kind, u, v in re.findall(r"([ML])\s*(-?[\d.]+)[ ,](-?[\d.]+)", path):
        point = float(u), float(v)
        if kind == "L" and last is not None and _hits(last, point, low, high):
            return True
        last = point
    return False


def _hits(
    start: tuple[float, float],
    end: tuple[float, float],
    low: tuple[float, float],
    high: tuple[float, float],
) -> bool:
    first, final = 0.0, 1.0
    for axis in (0, 1):
        step = end[axis] - start[axis]
        if step == 0:
            if not low[axis] < start[axis] < high[axis]:
                return False
            continue
        near, far = sorted(((low[axis] - start[axis]) / step, (high[axis] - start[axis]) / step))
        first, final = max(first, near), min(final, far)
    return first < final


@pytest.mark.parametrize("name", LAYOUTS)
def test_no_label_overlaps_and_nothing_leaves_its_drawing_or_the_page(
    browser: Browser, tmp_path: Path, name: str
) -> None:
    page, asked = opened(browser, wiring_book(LAYOUTS[name], f"{name}.toml"), tmp_path / "b.html")
    see_drawings(page.evaluate(BOXES))
    assert page.evaluate(SPILLS) == []
    for words, wide, high in page.evaluate(TALL):
        assert wide <= WIDE_MM * PX + 1, words
        assert high <= HIGH_MM * PX, words
    assert asked == [(tmp_path / "b.html").as_uri()]
    page.close()


def test_the_hardware_pages_drawings_have_no_overlaps(browser: Browser, tmp_path: Path) -> None:
    page, _ = opened(browser, "".join(diagrams().values()), tmp_path / "d.html")
    see_drawings(page.evaluate(BOXES))
    page.close()


@pytest.mark.parametrize("paper", Paper)
def test_each_stand_begins_a_page_on_both_papers(
    browser: Browser, tmp_path: Path, paper: Paper
) -> None:
    """Page breaks are asked for by name; that they are kept is seen in the printed pages."""
    html = wiring_book(LAYOUTS["demo"], "demo.toml", paper)
    sections = html.count("<section")
    page, _ = opened(browser, html, tmp_path / "p.html")
    printed = page.pdf(prefer_css_page_size=True)
    page.close()
    boxes = re.findall(rb"/MediaBox \[0 0 ([\d.]+) ([\d.]+)\]", printed)
    assert len(boxes) >= sections
    assert len(boxes) <= sections + 12, "no page is empty for want of room"
    wanted = {Paper.A4: (210, 297), Paper.LETTER: (215.9, 279.4)}[paper]
    for box in boxes:
        assert [float(side) / 72 * 25.4 for side in box] == pytest.approx(wanted, abs=0.5)


def test_the_page_stays_on_a_phone(browser: Browser, tmp_path: Path) -> None:
    (tmp_path / "s.html").write_text(wiring_book(LAYOUTS["demo"], "x"), encoding="utf-8")
    page = browser.new_page(viewport={"width": 800, "height": 900})
    page.goto((tmp_path / "s.html").as_uri())
    assert page.evaluate("document.documentElement.scrollWidth") <= 800
    page.close()


def test_the_command_prints_a_pdf(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    if not CHROMIUM.exists() and "CI" not in os.environ:
        pytest.skip(f"there is no {CHROMIUM}")
    assert main(["wiring", str(DEMO_FILE), "--out", str(tmp_path)]) == 0
    assert f"Wrote {tmp_path / 'wiring.pdf'}" in capsys.readouterr().out
    assert (tmp_path / "wiring.pdf").read_bytes().startswith(b"%PDF-")
    assert {path.name for path in tmp_path.iterdir()} == {"wiring.html", "wiring.pdf"}
