"""An evening's end as its host sees it, in Chromium: open, work, restore check, close, debrief."""

from __future__ import annotations

import os
import shutil
from collections.abc import Iterator
from importlib.resources import files
from pathlib import Path

import pytest
from browser.conftest import ARGUMENTS, give_up
from playwright.sync_api import Browser, Page, expect, sync_playwright
from service.processes import Running, running, until
from service.signing_in import PIN, give_pin

from debrief import debrief_player as player
from debrief.debrief_player import US

PHONE, LAPTOP, WIDE, WALL = (360, 740), (1280, 800), (1920, 1080), (3840, 2160)
SHOTS = os.environ.get("SPURLOCK_SHOTS")
"""A folder for pictures of the pages, where somebody wants to look at them."""

expect.set_options(timeout=60_000)


@pytest.fixture(scope="module")
def browser() -> Iterator[Browser]:
    found = Path(shutil.which("chromium") or "/usr/bin/chromium")
    if not found.exists():
        give_up("Chromium is not installed (apt install chromium); these tests drive the pages")
    with sync_playwright() as playwright:
        browser = playwright.chromium.launch(executable_path=found, args=ARGUMENTS)
        yield browser
        browser.close()


@pytest.fixture
def layout(tmp_path: Path) -> Path:
    """The demo's layout, with a logbook of two evenings beside it."""
    path = tmp_path / "wendlebeck.toml"
    path.write_text((files("firmware_py.demo") / "layouts" / path.name).read_text("utf-8"), "utf-8")
    url = str(path.with_suffix(".sqlite"))
    player.keep_jobs(url)
    for index in range(2):
        player.evening_of_jobs(url, 1_800_000_000 * US + index * 86_400 * US, index + 1)
    give_pin(url)
    return path


@pytest.fixture
def spurlock(layout: Path, tmp_path: Path) -> Iterator[Running]:
    with running(["run", str(layout), "--simulated"], tmp_path) as spurlock:
        yield spurlock


@pytest.fixture
def page(browser: Browser, spurlock: Running) -> Iterator[Page]:
    """A page whose console is watched to its end."""
    context = browser.new_context(viewport={"width": LAPTOP[0], "height": LAPTOP[1]})
    context.set_default_timeout(60_000)
    page = context.new_page()
    errors: list[str] = []
    expected = "401"  # A browser that has not given the PIN is told so, and then asked for it.
    page.on(
        "console",
        lambda said: (
            errors.append(said.text)
            if said.type in {"error", "warning"} and expected not in said.text
            else None
        ),
    )
    page.on("pageerror", lambda error: errors.append(str(error)))
    yield page
    context.close()
    assert errors == []


def size(page: Page, of: tuple[int, int]) -> None:
    page.set_viewport_size({"width": of[0], "height": of[1]})


def shot(page: Page, name: str) -> None:
    if SHOTS:
        Path(SHOTS).mkdir(parents=True, exist_ok=True)
        page.screenshot(path=Path(SHOTS) / f"{name}.png", full_page=True)


def fits(page: Page, width: int) -> None:
    """No page is wider than its window; what has to be wider scrolls in a box of its own."""
    assert page.evaluate("document.documentElement.scrollWidth") <= width


def give_the_pin(page: Page) -> None:
    page.locator("dialog[open] input").first.fill(PIN)
    page.keyboard.press("Enter")


def worked(spurlock: Running) -> None:
    """A round at the brickyard by hands, the switch left unlocked and the key off its hook."""
    spurlock.hand("lower-key.hook", False)
    spurlock.post("/api/orders", {"command": "ask", "spur": "brickyard"})
    spurlock.post("/api/orders", {"command": "release", "spur": "brickyard"})
    until(lambda: _row(spurlock)["phase"] == "opening")
    for contact, made in (
        ("brickyard-switch.hasp", False),
        ("brickyard-switch.normal", False),
        ("brickyard-switch.reverse", True),
    ):
        spurlock.hand(contact, made)
    until(lambda: _row(spurlock)["stage"] == "lined")
    spurlock.hand("brickyard-switch.detector", True)
    until(lambda: _row(spurlock)["phase"] == "working")
    spurlock.hand("brickyard-switch.detector", False)
    spurlock.hand("brickyard-switch.reverse", False)
    spurlock.hand("brickyard-switch.normal", True)
    until(lambda: _row(spurlock)["stage"] == "restored")


def _row(spurlock: Running) -> dict[str, str]:
    return dict(spurlock.get("/api/state")["rows"]["brickyard"])


def test_a_host_ends_an_evening(page: Page, spurlock: Running) -> None:
    page.goto(f"{spurlock.address}/session")
    says = page.locator("#restore-says")
    expect(page.locator("#state-word")).to_have_text("Between sessions")
    expect(says).to_have_text("Everything is home.")
    shot(page, "session-between")
    page.get_by_role("button", name="Open the session").click()
    give_the_pin(page)
    expect(page.locator("#state-word")).to_have_text("The session is open")
    expect(page.locator("#said")).to_contain_text("The session is open")
    expect(page.locator("#calls li").first).to_contain_text("host signed in")

    worked(spurlock)
    out = page.locator(".place[data-place=brickyard]")
    lies = out.locator("[data-kind=switch]").first
    expect(lies).to_contain_text("lined for the main, not locked")
    expect(out.locator("[data-kind=foreman]")).to_contain_text("not handed back")
    key = page.locator(".place[data-place=keys] [data-thing=lower-key]")
    expect(key).to_contain_text("off its hook; it fits Lamp-oil dock, Foundry and Brickyard")
    expect(says).to_contain_text("still out")
    for name, of in (("phone", PHONE), ("laptop", LAPTOP), ("wide", WIDE), ("wall", WALL)):
        size(page, of)
        fits(page, of[0])
        shot(page, f"session-{name}")
    size(page, LAPTOP)

    spurlock.hand("lower-key.hook", True)
    expect(key).to_have_count(0)
    spurlock.hand("oil-dock-derail.on", None)
    unknown = page.locator(".place[data-place=oil-dock] [data-state=unknown]")
    expect(unknown).to_contain_text("not known: whether it is on the rail")
    spurlock.hand("oil-dock-derail.on", True)
    expect(unknown).to_have_count(0)

    page.get_by_role("button", name="Close the session").click()
    expect(page.locator("#sure-word")).to_contain_text("Brickyard")
    expect(page.get_by_role("button", name="Keep it open")).to_be_focused()
    page.keyboard.press("Escape")
    expect(page.locator("#sure")).to_be_hidden()
    expect(page.locator("#state-word")).to_have_text("The session is open")
    page.get_by_role("button", name="Close the session").click()
    shot(page, "session-sure")
    page.get_by_role("button", name="Close it all the same").click()
    expect(page.locator("#state-word")).to_have_text("Between sessions")

    page.get_by_role("link", name="Debrief so far").click()
    expect(page.locator(".sheet")).to_have_attribute("data-session", "4")
    expect(page.locator(".timeline").first).to_contain_text("Brickyard")
    expect(page.locator(".trend-plot")).to_have_count(4)
    expect(page.locator(".summary .well")).to_contain_text("Every key")
    looked_at(page)


def looked_at(page: Page) -> None:
    """At every size nothing sticks out, and the table says what the drawing shows."""
    page.goto(page.url.rsplit("/", 1)[0] + "/debrief/2")
    for name, of in (("phone", PHONE), ("laptop", LAPTOP), ("wide", WIDE), ("wall", WALL)):
        size(page, of)
        fits(page, of[0])
        shot(page, f"debrief-{name}")
    size(page, PHONE)
    wide = page.locator(".scroller.wide").first
    assert wide.evaluate("box => box.scrollWidth > box.clientWidth"), "it scrolls in its own box"
    page.get_by_text("The same as a table").first.click()
    expect(page.get_by_role("region", name="Timeline as a table")).to_contain_text("in use")
    page.emulate_media(media="print")
    if SHOTS:
        for name, landscape in (("portrait", False), ("landscape", True)):
            path = Path(SHOTS) / f"debrief-{name}.pdf"
            page.pdf(path=path, format="A4", landscape=landscape, print_background=True)
    assert page.pdf(format="A4").startswith(b"%PDF")
    size(page, (690, 980))  # An A4 sheet between its margins.
    cut = page.evaluate(
        "[...document.querySelectorAll('.plot')].filter(one =>"
        " one.getBoundingClientRect().right > innerWidth + 1).length"
    )
    assert cut == 0
    expect(page.locator("nav")).to_be_hidden()
    page.emulate_media(media="screen")


def test_the_host_sets_his_own_ceiling_on_the_page(page: Page, spurlock: Running) -> None:
    page.goto(f"{spurlock.address}/debrief/1")
    expect(page.locator(".waiting-plot")).to_contain_text("your ceiling: 25 %")
    page.get_by_label("Your ceiling, per cent").fill("2")
    page.get_by_role("button", name="Keep it").click()
    give_the_pin(page)
    expect(page.locator(".waiting-plot")).to_contain_text("your ceiling: 2 %")
    expect(page.locator(".summary .talk")).to_contain_text("above your ceiling of 2 %")


def test_a_silent_engine_leaves_nothing_to_press_and_nothing_known(
    page: Page, spurlock: Running
) -> None:
    page.goto(f"{spurlock.address}/session")
    expect(page.locator("#open")).to_be_visible()
    engine = spurlock.engine()
    spurlock.kill(engine)
    page.wait_for_function(
        "() => document.querySelector('#state').dataset.opened === 'unknown'"
        " && document.querySelector('#open').hidden && document.querySelector('#close').hidden"
    )
    until(lambda: spurlock.child("firmware_py.service.engine_process") not in {None, engine})
    expect(page.locator("#open")).to_be_visible()
