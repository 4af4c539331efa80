"""Pictures of the pages at three sizes, for somebody to look at; nothing is compared."""

from __future__ import annotations

import os
from pathlib import Path

from playwright.sync_api import Page

SIZES = ((360, 740), (1280, 800), (1920, 1080))
FOLDER = "SPURLOCK_SHOTS"
BEYOND = """width => [...document.querySelectorAll("body, body *")]
    .filter((one) => one.getClientRects().length && one.namespaceURI.endsWith("xhtml"))
    .filter((one) => !one.closest(".scroller, .unseen, .skip, .host-state"))
    .filter((one) => one.getBoundingClientRect().right > width + 1
        || (one.scrollWidth > one.clientWidth + 1 && one.clientWidth > 0
            && getComputedStyle(one).overflowX === "visible"
            && one.getBoundingClientRect().left + one.scrollWidth > width + 1))
    .filter((one, _, all) => !all.some((other) => other !== one && one.contains(other)))
    .map((one) => `${one.tagName}.${one.className}#${one.id}`)"""
"""What sticks out of the window to the right; what scrolls in a frame of its own may."""


class Shots:
    """Keeps pictures in the folder that the environment names, or in one of the test's own."""

    def __init__(self, spare: Path) -> None:
        self._folder = Path(os.environ.get(FOLDER) or spare)
        self._folder.mkdir(parents=True, exist_ok=True)

    def take(self, page: Page, name: str) -> None:
        """The whole page at each size. Fails where anything is wider than the window."""
        before = page.viewport_size
        for width, height in SIZES:
            page.set_viewport_size({"width": width, "height": height})
            page.screenshot(path=self._folder / f"{name}-{width}.png", full_page=True)
            beyond = page.evaluate(BEYOND, width)
            assert beyond == [], f"{name} at {width} pixels: {beyond}"
            assert page.evaluate("document.documentElement.scrollWidth") <= width, name
        if before is not None:
            page.set_viewport_size(before)

    def take_print(self, page: Page, name: str) -> None:
        """The page as it prints, on a sheet's width."""
        before = page.viewport_size
        page.set_viewport_size({"width": 794, "height": 1123})
        page.emulate_media(media="print")
        page.screenshot(path=self._folder / f"{name}-print.png", full_page=True)
        page.emulate_media(media="screen")
        if before is not None:
            page.set_viewport_size(before)
