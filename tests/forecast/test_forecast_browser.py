"""The forecast's page in Chromium: asked for, read at a glance, and the dial set."""

from __future__ import annotations

import os
import shutil
from collections.abc import Iterator
from importlib.resources import files
from pathlib import Path

import pytest
from axe_playwright_python.sync_playwright import Axe
from browser.conftest import ARGUMENTS, give_up
from debrief import debrief_player as player
from debrief.debrief_player import US
from playwright.sync_api import Browser, Page, expect, sync_playwright
from service.processes import Running, running
from service.signing_in import PIN, give_pin

from firmware_py.forecast.answering import answered
from firmware_py.logbook.forecasting import Wanted, question_of
from firmware_py.logbook.opening import open_engine
from firmware_py.logbook.screen.forecasts import keep_forecast

PHONE, LAPTOP = (360, 740), (1280, 800)
SHOTS = os.environ.get("SPURLOCK_SHOTS")
"""A folder for pictures of the pages, where somebody wants to look at them."""

expect.set_options(timeout=120_000)


@pytest.fixture(scope="module")
def browser() -> Iterator[Browser]:
    found = Path(shutil.which("chromium") or "/usr/bin/chromium")
    if not found.exists():
        give_up("Chromium is not installed (apt install chromium); these tests drive the pages")
    with sync_playwright() as playwright:
        browser = playwright.chromium.launch(executable_path=found, args=ARGUMENTS)
        yield browser
        browser.close()


@pytest.fixture(scope="module")
def spurlock(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Running]:
    """The demo's layout, with a logbook of four evenings beside it."""
    folder = tmp_path_factory.mktemp("forecast")
    path = folder / "wendlebeck.toml"
    path.write_text((files("firmware_py.demo") / "layouts" / path.name).read_text("utf-8"), "utf-8")
    url = str(path.with_suffix(".sqlite"))
    player.keep_jobs(url)
    for index in range(4):
        began_us = 1_800_000_000 * US + index * 86_400 * US
        if index == 3:
            keep(url, began_us - 600 * US)
        player.evening_of_jobs(url, began_us, index + 1, slips=0.0)
    give_pin(url)
    with running(["run", str(path), "--simulated"], folder) as spurlock:
        yield spurlock


@pytest.fixture(scope="module")
def page(browser: Browser, spurlock: Running) -> Iterator[Page]:
    """A page whose console is watched to its end."""
    context = browser.new_context(viewport={"width": LAPTOP[0], "height": LAPTOP[1]})
    context.set_default_timeout(120_000)
    page = context.new_page()
    errors: list[str] = []
    page.on("pageerror", lambda error: errors.append(str(error)))
    page.on(
        "console",
        lambda said: (
            errors.append(said.text)
            if said.type in {"error", "warning"} and "401" not in said.text
            else None
        ),
    )
    yield page
    context.close()
    assert errors == []


def keep(url: str, wall_us: int) -> None:
    """A forecast made before an evening."""
    engine = open_engine(url)
    answer = answered(question_of(engine, player.LAYOUT, Wanted(45.0, evenings=200)))
    keep_forecast(engine, player.LAYOUT.name, answer, wall_us)
    engine.dispose()


def shot(page: Page, name: str) -> None:
    if SHOTS:
        Path(SHOTS).mkdir(parents=True, exist_ok=True)
        page.screenshot(path=Path(SHOTS) / f"{name}.png", full_page=True)


def looks_well(page: Page, name: str) -> None:
    """At both sizes and in both themes: nothing is wider than the window, and axe finds nothing."""
    for scheme in ("light", "dark"):
        page.emulate_media(color_scheme="dark" if scheme == "dark" else "light")
        for size in (PHONE, LAPTOP):
            page.set_viewport_size({"width": size[0], "height": size[1]})
            assert page.evaluate("document.documentElement.scrollWidth") <= size[0]
            shot(page, f"{name}-{scheme}-{size[0]}")
        found = Axe().run(page)
        assert found.violations_count == 0, found.generate_report()
    page.emulate_media(color_scheme="light")


def test_an_evening_is_forecast_and_the_dial_is_set(page: Page, spurlock: Running) -> None:
    page.goto(f"{spurlock.address}/forecast")
    expect(page.locator("#make")).to_be_visible()
    looks_well(page, "forecast-none")
    page.locator("#minutes").fill("0")
    page.locator("#make").click()
    expect(page.locator("#forecast-said")).to_have_text("An evening has 1 to 1440 minutes.")
    page.locator("#minutes").fill("45")
    page.locator("#make").click()
    page.locator("dialog[open] input").first.fill(PIN)
    with page.expect_event("load"):  # An older forecast stands there until then.
        page.keyboard.press("Enter")
    lead = page.locator(".verdict .lead")
    expect(lead).to_contain_text("Both jobs are done in time")
    expect(page.locator(".wide-plot .chance")).to_have_count(3)
    assert page.locator(".wide-plot").get_attribute("role") == "img"
    page.evaluate("document.querySelectorAll('details').forEach((one) => { one.open = true; })")
    expect(page.locator("table").first.locator("tbody tr")).to_have_count(3)
    looks_well(page, "forecast")
    page.locator("input[name=dial]").last.check()
    with page.expect_event("load"):
        page.get_by_role("button", name="Set the dial").click()
    expect(page.locator("input[name=dial]").last).to_be_checked()
    expect(page.locator("main")).to_contain_text("in force now: as the layout says")
    assert spurlock.get("/api/settings")["pace-dial"] == 6


def test_a_plan_that_does_not_fit_says_what_to_leave_out(page: Page, spurlock: Running) -> None:
    page.set_viewport_size({"width": LAPTOP[0], "height": LAPTOP[1]})
    page.goto(f"{spurlock.address}/forecast")
    page.locator("#minutes").fill("30")
    page.locator("#make").click()
    expect(page.locator(".verdict")).to_have_attribute("data-fits", "no")
    expect(page.locator(".verdict")).to_contain_text("Foundry turn")
    expect(page.locator(".wide-plot .ends-bar.left-out")).to_have_count(1)
    looks_well(page, "forecast-tight")


def test_a_debrief_shows_forecast_and_fact(page: Page, spurlock: Running) -> None:
    page.goto(f"{spurlock.address}/debrief/4")
    part = page.locator("section", has=page.get_by_role("heading", name="Forecast and fact"))
    expect(part).to_contain_text("The last job ended")
    expect(part.locator(".wide-plot .fact")).to_have_count(3)
    part.scroll_into_view_if_needed()
    for size in (PHONE, LAPTOP):
        page.set_viewport_size({"width": size[0], "height": size[1]})
        assert page.evaluate("document.documentElement.scrollWidth") <= size[0]
        if SHOTS:
            part.screenshot(path=Path(SHOTS) / f"debrief-forecast-{size[0]}.png")
