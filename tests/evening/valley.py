"""An appliance that runs for an evening, the people's own browsers, and the hands at the locks."""

from __future__ import annotations

import contextlib
import io
from collections.abc import Iterator
from importlib.resources import files
from pathlib import Path

import zxingcpp
from browser.conftest import PATIENCE_MS, Watch
from PIL import Image
from playwright.sync_api import Browser, BrowserContext, Page
from service.processes import Running, running, until
from service.signing_in import give_pin

WENDLEBECK = (files("firmware_py.demo") / "layouts" / "wendlebeck.toml").read_text("utf-8")
PHONE, WALL = (360, 740), (1920, 1080)
OVER = "status of 410"
"""What Chromium logs of a link that has ended, which is what the test asks for."""


class Valley:
    """A layout on simulated wires, run as its host runs it: between sessions at first."""

    def __init__(self, spurlock: Running, browser: Browser) -> None:
        self.spurlock = spurlock
        self.watch = Watch()
        self._browser = browser
        self._contexts: list[BrowserContext] = []

    def somebody(self, path: str, size: tuple[int, int], script: str = "") -> Page:
        """A person who comes with a browser of their own and opens a page in it."""
        context = self._browser.new_context(
            viewport={"width": size[0], "height": size[1]}, accept_downloads=True
        )
        context.set_default_timeout(PATIENCE_MS)
        self._contexts.append(context)
        if script:
            context.add_init_script(script)
        page = context.new_page()
        self.watch.follow(page, OVER)
        page.goto(self.spurlock.address + path)
        return page

    def hands(self, *moves: tuple[str, bool]) -> None:
        """Move contacts, each of which has settled before the next one moves."""
        for contact, made in moves:
            self.spurlock.hand(contact, made)
            until(lambda contact=contact, made=made: self._settled(contact) is made, contact)

    def _settled(self, contact: str) -> bool | None:
        state = self.spurlock.get("/api/state") or {"contacts": {}}
        settled: bool | None = state["contacts"].get(contact, {}).get("settled")
        return settled

    def go_home(self) -> None:
        """Everybody closes their browser; nothing was logged as an error or asked elsewhere."""
        for context in self._contexts:
            context.close()
        self.watch.judge(self.spurlock)


@contextlib.contextmanager
def valley_of(layout: str, folder: Path, browser: Browser) -> Iterator[Valley]:
    """Run a layout that is given as TOML."""
    path = folder / "layout.toml"
    path.write_text(layout, "utf-8")
    give_pin(path.with_suffix(".sqlite"))
    with running(["run", str(path), "--simulated"], folder) as spurlock:
        valley = Valley(spurlock, browser)
        yield valley
        valley.go_home()


def link_on(sheet: Page) -> str:
    """The path that a phone's camera reads off a sheet."""
    code = sheet.locator(".code [role=img]")
    found = zxingcpp.read_barcodes(Image.open(io.BytesIO(code.screenshot())))
    address = sheet.url.split("/jobs/", maxsplit=1)[0]
    assert [one.text.startswith(f"{address}/crew/") for one in found] == [True]
    assert found[0].text == sheet.locator(".code .typed").get_attribute("href")
    return str(found[0].text).removeprefix(address)


def sign_in(page: Page, pin: str) -> None:
    """Give the PIN in the dialog that has just opened."""
    page.locator("#host-pin").fill(pin)
    page.keyboard.press("Enter")
    page.locator("#host-dialog").wait_for(state="detached")
