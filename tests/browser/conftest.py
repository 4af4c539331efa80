"""A real Chromium over the real demo. What a page logs and where it reaches is watched."""

from __future__ import annotations

import os
import shutil
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import NoReturn
from urllib.parse import urlsplit

import pytest
from playwright.sync_api import Browser, ConsoleMessage, Page, Request, sync_playwright
from service.processes import Running, running

ARGUMENTS = ["--no-sandbox", "--disable-gpu", "--disable-dev-shm-usage"]
PATIENCE_MS = 60_000
WIDE = (1920, 1080)
LOST = ("ERR_CONNECTION_REFUSED", "ERR_INCOMPLETE_CHUNKED_ENCODING", "ERR_CONNECTION_RESET")
"""What Chromium itself logs when a server goes away; no fault of the page's."""

Open = Callable[..., Page]


def give_up(reason: str) -> NoReturn:
    """Skip for want of a program of the system; fail where everything is said to be installed."""
    if any(os.environ.get(name) for name in ("CI", "SPURLOCK_ALLOW_NO_SKIPS")):
        pytest.fail(reason)
    pytest.skip(reason)


@pytest.fixture(scope="module")
def chromium() -> Path:
    """Debian's Chromium."""
    found = Path(shutil.which("chromium") or "/usr/bin/chromium")
    if not found.exists():
        give_up("Chromium is not installed (apt install chromium); these tests drive the pages")
    return found


@pytest.fixture(scope="module")
def browser(chromium: Path) -> Iterator[Browser]:
    with sync_playwright() as playwright:
        browser = playwright.chromium.launch(executable_path=chromium, args=ARGUMENTS)
        yield browser
        browser.close()


@pytest.fixture
def demo(chromium: Path, tmp_path: Path) -> Iterator[Running]:
    """The demo with nobody at work but the test."""
    with running(["demo", "--no-crew", "--folder", str(tmp_path / "demo")], tmp_path) as demo:
        yield demo


REFUSALS = ("status of 401", "status of 403", "status of 429")
"""What Chromium logs when a guest is told that he has to give the PIN."""


class Watch:
    """Everything that pages logged as an error and asked for."""

    def __init__(self) -> None:
        self.errors: list[str] = []
        self.urls: list[str] = []

    def follow(self, page: Page, *beside: str) -> None:
        """Watch a page; errors with one of these texts are what its test is about."""
        page.on("console", lambda message: self._console(message, (*LOST, *beside)))
        page.on("pageerror", lambda error: self.errors.append(str(error)))
        page.on("request", self._request)

    def _console(self, message: ConsoleMessage, beside: tuple[str, ...]) -> None:
        awaited = any(word in message.text for word in beside)
        if message.type in {"error", "warning"} and not awaited:
            self.errors.append(message.text)

    def _request(self, request: Request) -> None:
        self.urls.append(request.url)

    def judge(self, demo: Running) -> None:
        """No error in any console, and nothing asked of anybody but the demo's own screen."""
        assert self.errors == []
        assert self.urls
        elsewhere = {url for url in self.urls if urlsplit(url).netloc != f"127.0.0.1:{demo.port}"}
        assert elsewhere == set()


@pytest.fixture
def open_page(browser: Browser, demo: Running) -> Iterator[Open]:
    """Opens pages of the demo, which are watched to their end; each notes if it is loaded anew.

    They are the signed-in host's, unless it is said that a guest looks.
    """
    watch = Watch()
    context, elsewhere = browser.new_context(), browser.new_context()
    name, _, value = demo.host().sign_in()["Cookie"].partition("=")
    context.add_cookies([{"name": name, "value": value, "url": demo.address}])
    for one in (context, elsewhere):
        one.set_default_timeout(PATIENCE_MS)
    loads: dict[Page, list[str]] = {}

    def open_page(path: str = "/", size: tuple[int, int] = WIDE, *, guest: bool = False) -> Page:
        page = (elsewhere if guest else context).new_page()
        page.set_viewport_size({"width": size[0], "height": size[1]})
        watch.follow(page, *(REFUSALS if guest else ()))
        loads[page] = []
        page.on("load", lambda loaded: loads[page].append(loaded.url))
        page.goto(demo.address + path)
        page.locator("body[data-live=yes]").wait_for()
        return page

    yield open_page
    for page, times in loads.items():
        assert len(times) == 1, f"{page.url} was loaded anew"
    context.close()
    elsewhere.close()
    watch.judge(demo)
