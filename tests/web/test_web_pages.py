"""The pages in a real browser, over a logbook that this test fills as an engine would."""

from __future__ import annotations

import os
import re
import threading
from collections.abc import Iterator
from pathlib import Path

import pytest
from test_web_serve import served
from web_filled import Filler, busy_evening
from web_screen import PIN

from firmware_py.logbook.opening import open_engine
from firmware_py.logbook.screen.pin import set_pin

CHROMIUM = Path("/usr/bin/chromium")
playwright = pytest.importorskip("playwright.sync_api", reason="Playwright is not installed")
# Where everything is said to be installed, a missing browser is a failure and no skip.
pytestmark = pytest.mark.skipif(
    not CHROMIUM.exists() and "CI" not in os.environ, reason=f"there is no {CHROMIUM}"
)
ARGUMENTS = ["--no-sandbox", "--disable-gpu", "--disable-dev-shm-usage"]
PATIENCE_MS = 30_000
expect = playwright.expect


class Engine:
    """Beats, and answers requests, until it is told to stop."""

    def __init__(self, filler: Filler, at_s: float) -> None:
        self._filler = filler
        self._at_s = at_s
        self._stop = threading.Event()
        self._jobs: list[tuple[str, bool]] = []
        self._thread = threading.Thread(target=self._run, daemon=True)
        self._thread.start()

    def read(self, contact: str, made: bool) -> None:
        """A raw reading, as soon as may be."""
        self._jobs.append((contact, made))

    def stop(self) -> None:
        self._stop.set()
        self._thread.join()

    def _run(self) -> None:
        while not self._stop.wait(0.1):
            self._at_s += 0.1
            while self._jobs:
                self._filler.read(self._at_s, *self._jobs.pop(0))
            self._filler.answer(self._at_s)
            self._filler.wait(self._at_s)
            self._filler.beat()


@pytest.fixture
def engine(path: Path, filler: Filler) -> Iterator[Engine]:
    database = open_engine(str(path))
    set_pin(database, PIN)
    database.dispose()
    busy_evening(filler)
    engine = Engine(filler, 620.0)
    yield engine
    engine.stop()


@pytest.fixture
def browser() -> Iterator[object]:
    with playwright.sync_playwright() as driver:
        browser = driver.chromium.launch(executable_path=str(CHROMIUM), args=ARGUMENTS)
        expect.set_options(timeout=PATIENCE_MS)
        yield browser
        browser.close()


def page_at(browser: object, url: str, width: int = 1920, height: int = 1080) -> object:
    """A page of the signed-in host's, that must meet no trouble of its own."""
    page = browser.new_page(viewport={"width": width, "height": height})
    page.set_default_timeout(PATIENCE_MS)
    page.on("pageerror", lambda error: pytest.fail(str(error)))
    address = "/".join(url.split("/")[:3])
    page.request.post(f"{address}/api/host", data={"pin": PIN}).dispose()
    page.goto(url)
    page.wait_for_selector('body[data-live="yes"]')
    return page


def test_the_board_follows_the_log_without_reload(
    path: Path, engine: Engine, browser: object
) -> None:
    with served(path) as (_, url):
        page = page_at(browser, url)
        quarry = page.locator('[data-row="quarry"]')
        expect(quarry).to_have_attribute("data-stage", "secured")
        expect(quarry.locator(".next-step")).to_have_text("Take down the West flag")
        expect(quarry.locator(".wait")).to_have_text(re.compile(r"^for \d+ min \d\d s$"))
        engine.read("quarry-flag.rack", True)
        expect(quarry.locator(".next-step")).to_have_text("Unlock the Quarry switch and line it")
        flag = quarry.locator('[data-protection="quarry-flag"]')
        expect(flag).to_contain_text("in its rack")
        engine.read("quarry-switch.hasp", False)
        expect(quarry).to_have_attribute("data-stage", "unlocked")
        expect(quarry.locator('[aria-current="step"]')).to_have_text("Unlocked")
        expect(page.locator('[data-row="tannery"] .irregular')).to_be_visible()
        expect(page.locator('[data-row="rope"]')).to_have_attribute("data-sure", "no")


def test_the_host_answers_for_the_foreman_and_acknowledges(
    path: Path, engine: Engine, browser: object
) -> None:
    with served(path) as (_, url):
        page = page_at(browser, url)
        dairy = page.locator('[data-row="dairy"]')
        desk = page.locator('[data-waits="dairy"]')
        desk.get_by_role("button", name="Not yet").click()
        expect(dairy.locator(".next-step")).to_have_text("Wait: the foreman said not yet")
        desk.get_by_role("button", name="Release").click()
        expect(dairy.locator(".next-step")).to_have_text("Take down the North flag")
        first = page.locator('[data-violation][data-acknowledged="no"]').first
        number = first.get_attribute("data-violation")
        expect(first).to_contain_text("49 CFR 218.105(b)")
        first.get_by_role("button", name="Acknowledge").click()
        done = page.locator(f'[data-violation="{number}"]')
        expect(done).to_have_attribute("data-acknowledged", "yes")


def test_a_lost_screen_is_shown_and_mended_without_reload(
    path: Path, engine: Engine, browser: object
) -> None:
    with served(path) as (_, url):
        page = page_at(browser, url)
        page.evaluate("window.same = true")
        port = url.rstrip("/").rpartition(":")[2]
    expect(page.locator("#alarm")).to_contain_text("No connection to the screen")
    lamps = page.locator('[data-lamp="green"], [data-lamp="white"]')
    expect(lamps).to_have_count(0)
    with served(path, "--port", port):
        page.wait_for_selector('body[data-live="yes"]')
        expect(page.locator("#alarm")).to_be_hidden()
        engine.read("coal-switch.detector", False)
        engine.read("coal-switch.reverse", False)
        engine.read("coal-switch.normal", True)
        expect(page.locator('[data-row="coal"]')).to_have_attribute("data-stage", "restored")
        assert page.evaluate("window.same") is True


def test_a_silent_engine_is_told_in_big_words(path: Path, engine: Engine, browser: object) -> None:
    with served(path) as (_, url):
        page = page_at(browser, url)
        engine.stop()
        expect(page.locator("#alarm")).to_contain_text("Engine silent")
        expect(page.locator('[data-lamp="green"], [data-lamp="white"]')).to_have_count(0)
        expect(page.locator('[data-row="quarry"] .lamp').first).to_contain_text("Treat as red")
        expect(page.locator(".row-buttons button")).to_have_count(0)


def test_a_hand_makes_and_breaks_contacts_on_the_bench(
    path: Path, engine: Engine, browser: object
) -> None:
    with served(path) as (_, url):
        page = page_at(browser, f"{url}bench")
        rack = page.locator('[data-contact="quarry-flag.rack"]')
        expect(rack).to_contain_text("GPIO 24")
        rack.locator('[data-hand="make"]').click()
        expect(rack).to_contain_text("in its rack, not displayed")
        expect(rack).to_have_attribute("data-settled", "made")
        green = page.locator('[data-output="quarry-switch.green"]')
        expect(green).to_contain_text("lit, steady")
        page.locator('[data-contact="quarry-switch.hasp"] [data-hand="break"]').click()
        expect(green).to_contain_text("off")


@pytest.mark.parametrize("where", ["", "bench"])
@pytest.mark.parametrize(("width", "height"), [(1920, 1080), (1280, 720), (820, 1180), (390, 844)])
def test_nothing_sticks_out_at_the_side(
    path: Path, engine: Engine, browser: object, where: str, width: int, height: int
) -> None:
    with served(path) as (_, url):
        page = page_at(browser, url + where, width, height)
        assert page.evaluate("document.documentElement.scrollWidth - innerWidth") <= 0
        cut = page.evaluate(
            """[...document.querySelectorAll(".row, .violation, .group, button, .step-word")]
               .filter((one) => one.scrollWidth > one.clientWidth + 4)
               .map((one) => one.className + ": " + one.textContent)"""
        )
        assert cut == []
