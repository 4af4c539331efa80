"""An evening that goes on, a layout that is new, and a browser that reaches nothing else."""

from __future__ import annotations

import shutil
import sys
from collections.abc import Iterator, Sequence
from pathlib import Path

import pytest
from browser.conftest import ARGUMENTS, PATIENCE_MS, Watch, give_up
from playwright.sync_api import Browser, BrowserContext, Page, expect, sync_playwright
from service.processes import Running, free_port, running, until
from service.signing_in import give_pin

from firmware_py.commands.main import main
from firmware_py.logbook.opening import open_engine
from firmware_py.logbook.screen.jobs import Job, drop_job, save_job
from firmware_py.logbook.screen.rounds import rounds
from firmware_py.logbook.screen.settings import secret
from manners.clubs import Club
from manners.sittings import Sat
from manners.views import BETWEEN, View, at_work
from web.access.links import link_of

UNPLUGGED = "--host-resolver-rules=MAP * ~NOTFOUND , EXCLUDE 127.0.0.1"
"""Chromium's way of having no network: no name and no other address leads anywhere."""
REFUSED = tuple(f"status of {status}" for status in (401, 404, 410))
"""What Chromium logs of the views that are about a refusal."""

expect.set_options(timeout=PATIENCE_MS)


class House:
    """An appliance that runs, all that can be looked at in it, and its visitors' browsers."""

    def __init__(self, spurlock: Running, browser: Browser, views: Sequence[View]) -> None:
        self.spurlock = spurlock
        self.views = views
        self.watch = Watch()
        self._browser = browser
        self._context: BrowserContext | None = None

    def visit(
        self, view: View, size: tuple[int, int], scheme: str = "light", motion: str = "reduce"
    ) -> Page:
        """A new browser that shows a view; the one before is closed."""
        self.leave()
        self._context = context = self._browser.new_context(
            viewport={"width": size[0], "height": size[1]},
            color_scheme="dark" if scheme == "dark" else "light",
            reduced_motion="reduce" if motion == "reduce" else "no-preference",
        )
        context.set_default_timeout(PATIENCE_MS)
        if view.host:
            name, _, value = self.spurlock.host().sign_in()["Cookie"].partition("=")
            context.add_cookies([{"name": name, "value": value, "url": self.spurlock.address}])
        page = context.new_page()
        self.watch.follow(page, *REFUSED)
        page.goto(self.spurlock.address + view.path)
        page.locator("body:not([data-heard=no])").wait_for()
        if view.host and page.locator("#host").count():
            page.locator("body[data-host=yes]").wait_for()
        view.arrive(page)
        return page

    def leave(self) -> None:
        """Close the browser."""
        if self._context is not None:
            self._context.close()
            self._context = None


@pytest.fixture(scope="module")
def unplugged() -> Iterator[Browser]:
    """A browser that reaches this machine alone."""
    found = Path(shutil.which("chromium") or "/usr/bin/chromium")
    if not found.exists():
        give_up("Chromium is not installed (apt install chromium); these tests drive the pages")
    with sync_playwright() as playwright:
        arguments = [*ARGUMENTS, UNPLUGGED]
        browser = playwright.chromium.launch(executable_path=found, args=arguments)
        yield browser
        browser.close()


@pytest.fixture(scope="module")
def evening(unplugged: Browser, tmp_path_factory: pytest.TempPathFactory) -> Iterator[House]:
    """The demo with its crews at work, twenty times as brisk as people."""
    folder = tmp_path_factory.mktemp("evening")
    logbook = folder / "demo" / "logbook.sqlite"
    arguments = ["demo", "--pace", "20", "--seed", "4", "--folder", str(logbook.parent)]
    with running(arguments, folder) as demo:
        house = House(demo, unplugged, at_work(*_links(demo, logbook)))
        yield house
        house.leave()


@pytest.fixture(scope="module")
def new_layout(unplugged: Browser, tmp_path_factory: pytest.TempPathFactory) -> Iterator[House]:
    """A layout just written by ``spurlock new``: no PIN, no job, no session yet."""
    folder = tmp_path_factory.mktemp("new")
    layout = folder / "layout.toml"
    assert main(["new", str(layout), "--yes"]) == 0
    with running(["run", str(layout), "--simulated"], folder) as spurlock:
        house = House(spurlock, unplugged, BETWEEN)
        yield house
        house.leave()


@pytest.fixture(scope="module")
def sitting(unplugged: Browser, tmp_path_factory: pytest.TempPathFactory) -> Iterator[House]:
    """A screen alone, over the logbook of a commissioning that goes on."""
    folder = tmp_path_factory.mktemp("sitting")
    logbook = folder / "kiln.sqlite"
    give_pin(logbook)
    sat = Sat(logbook)
    words = (sys.executable, "-m", "web")
    screen = Running(["--logbook", str(logbook)], folder, free_port(), words)
    try:
        until(lambda: screen.get("/api/commission"), f"it never came: {screen.said}")
        house = House(screen, unplugged, sat.views())
        yield house
        house.leave()
    finally:
        screen.stop()
        sat.close()


@pytest.fixture(scope="module")
def club(unplugged: Browser, tmp_path_factory: pytest.TempPathFactory) -> Iterator[House]:
    """A board of three boxes, which tell it without a broker how they fare."""
    folder = tmp_path_factory.mktemp("club")
    gathered = Club(folder)
    give_pin(gathered.logbook)
    words = (sys.executable, "-m", "web", "--club")
    screen = Running(["--logbook", str(gathered.logbook)], folder, free_port(), words)
    try:
        until(lambda: screen.get("/api/state"), f"it never came: {screen.said}")
        house = House(screen, unplugged, gathered.views())
        yield house
        house.leave()
    finally:
        screen.stop()
        gathered.close()


@pytest.fixture(params=["evening", "new_layout", "sitting"])
def house(request: pytest.FixtureRequest) -> House:
    """Each that has pages of its own."""
    return _house(request)


@pytest.fixture(params=["evening", "new_layout", "sitting", "club"])
def every_house(request: pytest.FixtureRequest) -> House:
    """Each of them, with a club, whose pages are a box's with more words and more rows in them."""
    return _house(request)


def _house(request: pytest.FixtureRequest) -> House:
    found = request.getfixturevalue(request.param)
    assert isinstance(found, House)
    return found


def _links(demo: Running, logbook: Path) -> tuple[str, str]:
    """The paths of the page of a crew, and of one whose job was taken away."""
    engine = open_engine(str(logbook))
    try:
        layout = until(lambda: demo.get("/api/state"))["head"]["layout"]
        gone = save_job(engine, layout, Job("Gone", "", 1, "", (), ()), 1)
        drop_job(engine, gone, 2)
        evening = next(iter(rounds(engine, 1)), 0)
        key = secret(engine, "link-secret")
        live, dropped = (f"/crew/{link_of(key, evening, job)}" for job in (1, gone))
    finally:
        engine.dispose()
    return live, dropped
