"""The Pace page in a real Chromium over the real demo, as a host would use it."""

from __future__ import annotations

import os
import re
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest
from axe_playwright_python.sync_playwright import Axe
from browser.conftest import PATIENCE_MS, Watch, browser, chromium
from playwright.sync_api import Browser, Page, expect
from service.processes import Running, running, until

__all__ = ["browser", "chromium"]

PHONE, DESK = (360, 740), (1280, 800)
SHOTS = os.environ.get("SPURLOCK_SHOTS")
OPTIONS = {"resultTypes": ["violations"], "rules": {"target-size": {"enabled": True}}}
SPEEDS = {4: 8, 8: 18, 12: 28, 16: 36, 20: 43, 24: 48, 28: 52}

expect.set_options(timeout=PATIENCE_MS)
Open = Callable[..., Page]


@pytest.fixture(scope="module")
def demo(chromium: Path, tmp_path_factory: pytest.TempPathFactory) -> Iterator[Running]:
    """The demo with nobody at work, for all of these tests."""
    folder = tmp_path_factory.mktemp("pace")
    with running(["demo", "--no-crew", "--folder", str(folder / "demo")], folder) as demo:
        yield demo


@pytest.fixture
def open_page(browser: Browser, demo: Running) -> Iterator[Open]:
    """Opens pages as the host."""
    watch = Watch()
    contexts = []

    def open_page(path: str, size: tuple[int, int] = DESK, scheme: str = "light") -> Page:
        context = browser.new_context(
            viewport={"width": size[0], "height": size[1]},
            color_scheme="dark" if scheme == "dark" else "light",
        )
        context.set_default_timeout(PATIENCE_MS)
        name, _, value = demo.host().sign_in()["Cookie"].partition("=")
        context.add_cookies([{"name": name, "value": value, "url": demo.address}])
        contexts.append(context)
        page = context.new_page()
        watch.follow(page, "status of 422", "status of 404")
        page.goto(demo.address + path)
        page.locator("body[data-host=yes]").wait_for()
        return page

    yield open_page
    for context in contexts:
        context.close()
    watch.judge(demo)


def shot(page: Page, name: str) -> None:
    if SHOTS:
        page.screenshot(path=Path(SHOTS) / f"{name}.png", full_page=True)


def hand(demo: Running, contact: str, made: bool) -> None:
    demo.host().post("/api/hands", {"contact": contact, "made": made})


def run_through(demo: Running) -> None:
    """A train through the demo's first trap, and off it again."""
    trap = demo.get("/api/pace/track")["traps"][0]
    for made in (True, False):
        for end in (trap["first"], trap["second"]):
            hand(demo, end, made)
            until(lambda end=end, made=made: settled(demo, end) is made)  # type: ignore[misc]


def settled(demo: Running, contact: str) -> object:
    return demo.get("/api/state")["contacts"][contact]["settled"]


def add(page: Page, step: int, forward: bool, mph: float) -> None:
    rows = page.locator("#run-rows .run-chip")
    before = rows.count()
    page.locator("#run-step").fill(str(step))
    page.locator(f"input[name=way][value={'forward' if forward else 'reverse'}]").check()
    page.locator("#run-mph").fill(str(mph))
    page.locator("#run-add").click()
    expect(rows).to_have_count(before + 1)


def test_a_locomotive_is_set_up_from_the_first_pass_to_its_card(
    open_page: Open, demo: Running
) -> None:
    page = open_page("/pace")
    page.locator("#loco-new").click()
    page.locator("#loco-save").click()
    expect(page.locator("#pace-trouble")).to_contain_text("Name or number is needed")
    page.locator("#loco-name").fill("Hopper drag No. 41")
    page.locator("#loco-top").fill("26")
    page.locator("#loco-save").click()
    expect(page.locator("#measuring")).to_be_visible()

    page.locator("#advise").click()
    expect(page.locator("#advice .notice")).to_contain_text("3 different ones are needed")

    page.locator("#run-step").fill("6")
    page.locator("#run-next").click()
    expect(page.locator("#run-next")).to_have_attribute("aria-pressed", "true")
    run_through(demo)
    expect(page.locator("#run-rows .run-chip")).to_have_count(1)
    expect(page.locator("#run-next")).to_have_attribute("aria-pressed", "false")
    page.locator("#run-rows .run-chip").click()
    expect(page.locator("#run-rows .run-chip")).to_have_count(0)

    for step, mph in SPEEDS.items():
        add(page, step, True, mph)
        add(page, step, False, round(mph * 0.95, 1))
    page.locator("#advise").click()
    expect(page.locator(".big-five dd")).to_have_count(5)
    expect(page.locator("#advice")).to_contain_text(re.compile(r"will be 2[56]\.\d scale mph"))
    shot(page, "pace-advice-desk")
    before = int(page.locator(".big-five dd").last.text_content() or "0")
    page.locator("#stop-mm").fill("1000")
    page.locator("#stop-form button[type=submit]").click()
    expect(page.locator("#advice")).to_contain_text("Corrected by the measured stop")
    assert int(page.locator(".big-five dd").last.text_content() or "0") < before

    page.get_by_role("link", name="Card to print").click()
    expect(page.locator("h2")).to_have_text("Hopper drag No. 41")
    expect(page.locator(".speed-table td")).to_have_count(28)
    shot(page, "pace-card-desk")
    assert not Axe().run(page, options=OPTIONS).response["violations"]


def test_roll_tests_say_what_each_spur_needs(open_page: Open) -> None:
    page = open_page("/pace")
    expect(page.locator(".spur-card").first).to_contain_text("no car has been measured")
    page.locator("#roll-car").fill("free boxcar")
    page.locator("#roll-way").select_option("ramp")
    page.locator("#ramp-height_mm").fill("9")
    page.locator("#ramp-to_rest_mm").fill("9")
    page.locator("#roll-form button[type=submit]").click()
    expect(page.locator("#roll-said")).to_contain_text("longer than the ramp is high")
    page.locator("#ramp-to_rest_mm").fill("1500")
    page.locator("#roll-form button[type=submit]").click()
    expect(page.locator("#roll-said")).to_contain_text("keeps rolling from 0.60 %")
    expect(page.locator("#roll-list li")).to_have_count(1)
    cards = page.locator(".spur-card")
    assert cards.count() >= 5
    expect(cards.filter(has_text=re.compile(r"Needs \d chock")).first).to_contain_text("scale mph")
    first = cards.first
    first.locator("summary").click()
    first.locator("input").nth(1).fill("3")
    first.locator("button[type=submit]").click()
    expect(cards.first.locator("summary")).to_contain_text("3 cuts")


def test_a_brake_test_and_a_calibration_are_worked_out(open_page: Open, demo: Running) -> None:
    run_through(demo)
    page = open_page("/pace")
    expect(page.locator(".pass").first).to_contain_text("±")
    expect(page.locator(".pass").first).to_contain_text("toward")
    page.locator("#air-cars").fill("8")
    page.locator("#air-form button[type=submit]").click()
    expect(page.locator("#air-answer")).to_contain_text("49 CFR 232.215")
    expect(page.locator("#air-answer svg")).to_have_count(1)
    page.locator("#air-cars").fill("0")
    page.locator("#air-form button[type=submit]").click()
    expect(page.locator("#air-answer")).to_contain_text("Cars: a number from 1 to 300")
    page.locator("#calibration summary").click()
    page.locator("#cal-shown").fill("9.8, 9.9")
    page.locator("#cal-distance").fill("3000")
    page.locator("#cal-seconds").fill("58.5")
    page.locator("#calibration-form button[type=submit]").click()
    expect(page.locator("#cal-answer code.line")).to_contain_text("distance_mm = ")


@pytest.mark.parametrize("scheme", ["light", "dark"])
@pytest.mark.parametrize("size", [PHONE, DESK], ids=["phone", "desk"])
def test_it_fits_and_can_be_read_by_everybody(
    open_page: Open, demo: Running, size: tuple[int, int], scheme: str
) -> None:
    run_through(demo)
    page = open_page("/pace", size, scheme)
    expect(page.locator(".pass").first).to_be_visible()
    if page.locator("#advise").is_visible():
        page.locator("#advise").click()
        expect(page.locator("#advice > *").first).to_be_visible()
        expect(page.locator("#advice")).not_to_contain_text("Working it out")
    page.locator("#air-form button[type=submit]").click()
    expect(page.locator("#air-answer svg")).to_be_visible()
    page.evaluate("document.querySelectorAll('details').forEach((one) => { one.open = true; })")
    wide = page.evaluate("document.documentElement.scrollWidth")
    assert wide <= size[0], "the page is wider than the screen"
    found = Axe().run(page, options=OPTIONS).response["violations"]
    assert [(one["id"], [node["html"] for node in one["nodes"]]) for one in found] == []
    shot(page, f"pace-{size[0]}-{scheme}")
