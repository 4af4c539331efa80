"""Crews' phones in Chromium: a whole job, two crews side by side, and one alone led by voice."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest
from browser.voice import HEARD, TONE, heard, says
from crew_demo import MUTE, PATIENCE_MS, PHONE, Evening
from playwright.sync_api import Browser, Page, expect
from service.processes import Running

from firmware_py.logbook.screen.jobs import Car, Job, JobStop

expect.set_options(timeout=PATIENCE_MS)

NOTE = "The saw throws chips: stand clear of the chute"
LOGS = Job(
    "Saw logs",
    "Cy and Di",
    4,
    "",
    ("upper-key", "sawmill-key"),
    (JobStop("sawmill", (Car("three flats"),), (Car("an empty flat", "the far bay"),), NOTE),),
)
MILK = Job("Milk run", "Ada", 3, "marker", ("upper-key",), (JobStop("creamery"),))


@pytest.fixture
def evening(demo: Running, tmp_path: Path, browser: Browser) -> Iterator[Evening]:
    evening = Evening(demo, tmp_path, browser)
    yield evening
    evening.close()
    assert evening.errors == []


def step(page: Page, ident: str) -> None:
    """The next step that a page shows."""
    expect(page.locator("#step")).to_have_attribute("data-step", ident)


def press(page: Page, action: str) -> None:
    page.locator(f"#main-action [data-action={action}]").click()


def lamp(page: Page, *shown: str) -> None:
    """The lamps that a page shows, and no others."""
    expect(page.locator(".crew-lamp")).to_have_count(len(shown))
    for place, colour in enumerate(shown):
        expect(page.locator(".crew-lamp").nth(place)).to_have_attribute("data-lamp", colour)


def test_a_whole_job_by_phone(evening: Evening) -> None:
    page = evening.phone(evening.job(LOGS))
    expect(page.locator("#job-name")).to_have_text("Saw logs")
    lamp(page, "green")
    press(page, "yard")
    step(page, "upper-key")
    evening.hands(("upper-key.hook", False), ("sawmill-key.hook", False))
    press(page, "ask")
    expect(page.locator("[data-gauge=foreman] .gauge-words")).to_contain_text("4 s to 12 s")
    step(page, "sawmill-gate")  # The foreman answers by himself.
    expect(page.locator("#sealed")).to_contain_text("Sawmill gate")
    assert NOTE not in page.content()
    evening.hands(("sawmill-gate.hasp", False), ("sawmill-gate.shut", False))
    expect(page.locator("#note")).to_have_text(NOTE)
    expect(page.locator("#cars")).to_contain_text("the far bay")
    step(page, "sawmill-switch")
    lamp(page, "green", "white")
    evening.hands(("sawmill-switch.hasp", False), ("sawmill-switch.normal", False))
    evening.hands(("sawmill-switch.reverse", True))
    step(page, "horn")
    lamp(page, "red", "white")
    press(page, "horn")
    step(page, "work")
    evening.hands(("sawmill-switch.detector", True))
    page.locator("[data-action=start-brake-test]").click()
    expect(page.locator("[data-gauge=charging] .dial-value")).to_contain_text("psi")
    expect(page.locator("[data-gauge=leakage]")).to_have_attribute("data-state", "runs")
    step(page, "work")
    press(page, "stretch")
    step(page, "clear")
    evening.hands(("sawmill-switch.detector", False))
    press(page, "work-done")
    step(page, "sawmill-gate")
    evening.hands(("sawmill-gate.shut", True), ("sawmill-gate.hasp", True))
    press(page, "hand-back")
    step(page, "sawmill-switch")
    evening.hands(("sawmill-switch.reverse", False), ("sawmill-switch.normal", True))
    evening.hands(("sawmill-switch.hasp", True))
    expect(page.locator(".stop")).to_have_attribute("data-state", "done")
    step(page, "upper-key")
    evening.hands(("upper-key.hook", True), ("sawmill-key.hook", True))
    step(page, "done")
    expect(page.locator("#broken-part")).to_be_hidden()
    assert NOTE not in page.content()


def test_two_crews_never_see_each_others_controls(evening: Evening) -> None:
    evening.only_steps("[]")
    saw, milk = evening.phone(evening.job(LOGS)), evening.phone(evening.job(MILK))
    both = Job("Both", "Eve", 1, "", (), (JobStop("creamery"),))
    late = evening.phone(evening.job(both))
    evening.hands(("upper-key.hook", False))
    press(milk, "ask")
    step(milk, "foreman")
    step(saw, "upper-key")
    expect(saw.locator("#says")).to_contain_text("is with Ada")
    step(late, "other-crew")
    expect(late.locator("#says")).to_contain_text("worked by Ada")
    expect(late.locator("#main-action button")).to_have_count(0)
    expect(late.locator("[data-action]:not([data-action=left])")).to_have_count(0)
    for page in (saw, late):
        assert "creamery-flag" not in page.content()
    evening.order("release", "creamery")
    step(milk, "creamery-flag")
    step(late, "other-crew")
    path = f"/api{milk.url.removeprefix(evening.demo.address)}"
    ids = {one["id"] for one in evening.demo.get(path)["actions"]}
    assert ids == {"work-done"}


def hands_free_creamery(evening: Evening, page: Page) -> None:
    """Nobody touches the page: the stand's button, the locks and the train do it all."""
    says(page, "Have a word with the yard")
    says(page, "Take the Upper valley switch key")
    evening.hands(("upper-key.hook", False))
    says(page, "Press the button at the stand")
    evening.hands(("creamery-switch.button", True), ("creamery-switch.button", False))
    says(page, "Wait for the foreman's answer")
    says(page, "Take down the flag")
    evening.hands(("creamery-flag.rack", True), ("creamery-switch.hasp", False))
    evening.hands(("creamery-switch.normal", False), ("creamery-switch.reverse", True))
    says(page, "Hang the chock in its rack")
    evening.hands(("creamery-chock.rack", True))
    says(page, "Sound the horn")
    says(page, "Go in and work the spur")
    evening.hands(("creamery-switch.detector", True), ("creamery-switch.detector", False))
    says(page, "button at the stand ends the work")
    evening.hands(("creamery-switch.button", True), ("creamery-switch.button", False))
    says(page, "Hand the spur back to the foreman")
    says(page, "Put up the flag")


def test_a_whole_job_alone_is_led_by_voice(evening: Evening) -> None:
    evening.only_steps('["yard", "horn"]')
    page = evening.phone(evening.job(MILK) + "?alone=1", script=HEARD, host=True)
    expect(page.locator("#voice")).to_be_visible()
    assert heard(page) == []
    page.locator("#listen").click()
    hands_free_creamery(evening, page)
    assert TONE not in heard(page)
    evening.hands(("creamery-switch.hasp", True))  # Before the points lie for the main.
    says(page, "Attention. Locked while not normal")
    assert heard(page).count(TONE) == 2
    page.locator("#say-why").click()
    says(page, "Protection that was lifted for a move goes back at once")
    evening.hands(("creamery-switch.hasp", False), ("creamery-flag.rack", False))
    evening.hands(("creamery-switch.reverse", False), ("creamery-switch.normal", True))
    evening.hands(("creamery-switch.hasp", True))
    says(page, "Hang the Upper valley switch key on its hook")
    evening.hands(("upper-key.hook", True))
    says(page, "The job is done")
    page.locator("#listen").click()
    expect(page.locator("#listen")).to_have_text("Start listening")


def test_a_browser_that_cannot_speak_says_so_and_shows(evening: Evening) -> None:
    page = evening.phone(evening.job(MILK), script=MUTE)
    page.locator("#alone").click()
    expect(page.locator("#voice-says")).to_contain_text("can't speak")
    page.locator("#listen").click()
    step(page, "yard")
    step(page, "rear")  # It passed by itself all the same.


def test_a_lost_screen_is_unmistakable_and_shows_no_lamp(evening: Evening) -> None:
    page = evening.phone(evening.job(MILK))
    lamp(page, "green")
    evening.demo.kill(evening.demo.screen())
    # While the screen is away; what is seen then must hold together, so it is one look.
    page.wait_for_function(
        """() => document.body.dataset.connected === "no"
            && !document.querySelector("#alarm").hidden
            && /every switch as red/.test(document.querySelector("#says").innerText)
            && !document.querySelector(".crew-lamp")
            && !document.querySelector("#main-action button")"""
    )
    expect(page.locator("body")).to_have_attribute("data-live", "yes")
    step(page, "yard")
    lamp(page, "green")


def test_a_page_whose_evening_is_over_says_so(evening: Evening) -> None:
    page = evening.phone(evening.job(MILK))
    evening.close_session()
    expect(page.locator("#alarm")).to_contain_text("ask the host for a new link")
    lamp(page)
    expect(page.locator("#main-action button")).to_have_count(0)
    page.reload()
    expect(page.locator("h1")).to_have_text("This link is over")


def test_a_step_ticked_by_mistake_is_undone(evening: Evening) -> None:
    page = evening.phone(evening.job(MILK))
    press(page, "yard")
    step(page, "rear")
    page.locator("[data-undo=yard]").click()
    step(page, "yard")


@pytest.mark.parametrize("size", [PHONE, (768, 1024), (1920, 1080), (3840, 2160)])
def test_no_page_of_a_crew_is_wider_than_its_window(
    evening: Evening, size: tuple[int, int]
) -> None:
    page = evening.phone(evening.job(LOGS) + "?alone=1", size, scheme="dark")
    evening.hands(("sawmill-switch.normal", False))
    expect(page.locator("#broken-part")).to_be_visible()
    page.locator("#broken-part summary").click()
    page.locator("#why summary").click()
    assert page.evaluate("document.documentElement.scrollWidth") <= size[0]
    small = page.evaluate(
        """() => [...document.querySelectorAll("button, summary, input")]
            .filter((one) => one.getClientRects().length)
            .filter((one) => one.getBoundingClientRect().height < 44)
            .map((one) => one.outerHTML)"""
    )
    assert small == []
