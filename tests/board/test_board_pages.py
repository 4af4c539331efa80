"""The board in Chromium: by keyboard, on a wall, as a guest, in both themes."""

from __future__ import annotations

import re
from collections.abc import Iterator
from pathlib import Path
from typing import TYPE_CHECKING

import pytest
from board_filled import Evening
from test_web_serve import served
from web_screen import PIN

from firmware_py.core.names import Command

if TYPE_CHECKING:
    from playwright.sync_api import Browser, Locator, Page

playwright = pytest.importorskip("playwright.sync_api", reason="Playwright is not installed")
expect = playwright.expect
WALL = (1920, 1080)
SIZES = [(360, 740), (1280, 800), WALL, (3840, 2160)]
AXE_RULES = "wcag2a, wcag2aa, wcag21a, wcag21aa, best-practice"


class Seat:
    """Somebody at a browser; ``page`` must meet no trouble of its own."""

    def __init__(self, browser: Browser, url: str, size: tuple[int, int], scheme: str) -> None:
        width, height = size
        viewport = {"width": width, "height": height}
        self.context = browser.new_context(viewport=viewport, color_scheme=scheme)
        self.page = self.context.new_page()
        self.page.on("pageerror", lambda error: pytest.fail(str(error)))
        self.url = url

    def sign_in(self) -> None:
        self.page.request.post(f"{self.url}api/host", data={"pin": PIN}).dispose()

    def open(self, where: str = "") -> Page:
        self.page.goto(self.url + where)
        self.page.wait_for_selector('body[data-live="yes"]')
        return self.page


class Room:
    """A screen that runs, and those who sit at it."""

    def __init__(self, browser: Browser, url: str) -> None:
        self._browser = browser
        self.url = url
        self._seats: list[Seat] = []

    def guest(self, size: tuple[int, int] = WALL, where: str = "", scheme: str = "dark") -> Page:
        self._seats.append(Seat(self._browser, self.url, size, scheme))
        return self._seats[-1].open(where)

    def host(self, size: tuple[int, int] = WALL, where: str = "", scheme: str = "dark") -> Page:
        self._seats.append(Seat(self._browser, self.url, size, scheme))
        self._seats[-1].sign_in()
        return self._seats[-1].open(where)

    def close(self) -> None:
        for seat in self._seats:
            seat.context.close()


@pytest.fixture
def room(path: Path, evening: Evening, browser: Browser) -> Iterator[Room]:
    with served(path) as (_, url):
        room = Room(browser, url)
        yield room
        room.close()


def row(page: Page, spur: str) -> Locator:
    return page.locator(f'[data-row="{spur}"]')


def scrolls(page: Page) -> list[str]:
    """What sticks out of the screen, or of its own row."""
    found: list[str] = page.evaluate(
        """() => {
          const rows = document.querySelector("#rows");
          const out = [];
          if (document.documentElement.scrollHeight > innerHeight) out.push("page");
          if (document.documentElement.scrollWidth > innerWidth) out.push("page sideways");
          if (rows.scrollHeight > rows.clientHeight + 1) out.push("rows");
          for (const row of rows.children) {
            const box = row.getBoundingClientRect();
            if (box.bottom > innerHeight + 1) out.push(`${row.dataset.row} below the screen`);
            if (row.scrollHeight > row.clientHeight + 1) out.push(`${row.dataset.row} is cut`);
          }
          return out;
        }"""
    )
    return found


def test_the_desk_is_answered_with_the_keyboard_alone(room: Room, evening: Evening) -> None:
    page = room.host()
    expect(page.locator("#desk")).to_be_hidden()
    expect(page.locator("#fact-list")).to_contain_text("Desk: nobody waits")
    evening.order(Command.ASK, "s2")
    desk = page.locator('[data-waits="s2"]')
    expect(desk).to_contain_text("Dairy asks for its spur")
    expect(desk.locator(".wait-time")).to_have_text(re.compile(r"^for \d+ s$"))
    expect(page).to_have_title(re.compile(r"^\(1\) Board"))
    expect(page.locator("#desk-said")).to_have_text("Dairy asks for its spur.")
    page.wait_for_timeout(1000)
    page.keyboard.press("n")
    expect(desk).to_contain_text("was told not yet")
    expect(row(page, "s2").locator(".next-step")).to_have_text("Wait: the foreman said not yet")
    page.keyboard.press("R")
    expect(page.locator("#desk")).to_be_hidden()
    expect(row(page, "s2").locator("[data-protection=foreman]")).to_contain_text("released")
    expect(page).to_have_title(re.compile(r"^Board"))


def test_the_desk_is_the_first_thing_that_tab_comes_to_on_the_page(
    room: Room, evening: Evening
) -> None:
    evening.order(Command.ASK, "s2")
    page = room.host()
    page.locator('[data-waits="s2"]').wait_for()
    page.keyboard.press("Tab")
    expect(page.locator(".skip")).to_be_focused()
    page.keyboard.press("Enter")
    page.keyboard.press("Tab")
    expect(page.locator('[data-waits="s2"] [data-command="release"]')).to_be_focused()
    page.keyboard.press("Enter")
    expect(page.locator("#desk")).to_be_hidden()


def test_a_key_that_was_meant_for_another_spur_answers_nothing(
    room: Room, evening: Evening
) -> None:
    page = room.host()
    page.evaluate(
        """() => {
          const seen = new MutationObserver(() => {
            if (!document.querySelector("[data-waits]")) return;
            seen.disconnect();
            document.dispatchEvent(new KeyboardEvent("keydown", { key: "r" }));
          });
          seen.observe(document.querySelector("#desk-list"), { childList: true });
        }"""
    )
    evening.order(Command.ASK, "s4")
    expect(page.locator('[data-waits="s4"] .wait-notice')).to_contain_text("look, then press again")
    expect(page.locator('[data-waits="s4"]')).to_contain_text("asks for its spur")


def test_shortcut_keys_are_listed_and_can_be_switched_off(room: Room, evening: Evening) -> None:
    evening.order(Command.ASK, "s2")
    page = room.host()
    page.locator('[data-waits="s2"]').wait_for()
    page.wait_for_timeout(1000)
    page.keyboard.press("?")
    listed = page.locator("#shortcuts")
    expect(listed).to_be_visible()
    expect(listed.locator("dt")).to_have_text(["R", "N", "A", "F", "S", "?"])
    page.keyboard.press("n")
    listed.locator("#shortcuts-on").uncheck()
    page.keyboard.press("Escape")
    expect(listed).to_be_hidden()
    page.keyboard.press("n")
    page.reload()
    page.locator('[data-waits="s2"]').wait_for()
    page.wait_for_timeout(1000)
    page.keyboard.press("n")
    page.wait_for_timeout(500)
    expect(page.locator('[data-waits="s2"]')).to_contain_text("asks for its spur")


def test_a_guest_sees_that_the_desk_waits_and_is_asked_for_the_pin(
    room: Room, evening: Evening
) -> None:
    evening.order(Command.ASK, "s2")
    page = room.guest()
    desk = page.locator('[data-waits="s2"]')
    expect(desk).to_contain_text("asks for its spur")
    desk.get_by_role("button", name="Release").click()
    dialog = page.get_by_role("dialog")
    expect(dialog).to_contain_text("PIN")
    page.keyboard.press("Escape")
    expect(desk).to_contain_text("the host PIN was not given")
    desk.get_by_role("button", name="Release").click()
    dialog.locator("#host-pin").fill(PIN)
    page.keyboard.press("Enter")
    expect(page.locator("#desk")).to_be_hidden()


def test_a_violation_is_acknowledged_with_a_note(room: Room, evening: Evening) -> None:
    evening.read("s3-switch.normal", False)
    page = room.host()
    one = page.locator('[data-violation="1"]')
    expect(one.locator(".when")).to_have_text(re.compile(r"^0:00:\d\d \(.+\)"))
    one.locator(".with-note summary").click()
    note = one.get_by_label("Note for the log")
    expect(note).to_be_focused()
    note.fill("stiff lock <i>oiled</i>")
    page.keyboard.press("a")
    expect(note).to_have_value("stiff lock <i>oiled</i>a")
    note.fill("stiff lock <i>oiled</i>")
    page.keyboard.press("Enter")
    expect(one).to_have_attribute("data-acknowledged", "yes")
    expect(one.locator(".said")).to_have_text("Note: stiff lock <i>oiled</i>")
    expect(one.locator(".when")).to_contain_text("acknowledged 0:00:")


def test_a_violation_is_acknowledged_by_one_key(room: Room, evening: Evening) -> None:
    evening.read("s3-switch.normal", False)
    page = room.host()
    page.locator('[data-violation="1"]').wait_for()
    page.keyboard.press("a")
    expect(page.locator('[data-violation="1"]')).to_have_attribute("data-acknowledged", "yes")


def test_why_a_lamp_is_red_stands_on_its_row(room: Room, evening: Evening) -> None:
    page = room.guest()
    why = {spur: row(page, spur).locator(".why-first") for spur in ("s1", "s3", "s4")}
    expect(why["s1"]).to_be_hidden()
    evening.read("s1-key.hook", False)
    evening.read("s1-switch.hasp", False)
    expect(why["s1"]).to_have_text(re.compile("^Red: violation 1 waits for the host"))
    more = row(page, "s1").locator(".why-button")
    expect(row(page, "s1").locator(".why-rest")).to_be_hidden()
    more.click()
    expect(row(page, "s1").locator(".why-rest")).to_have_text("Unlocked; relock to get green")
    expect(more).to_have_attribute("aria-expanded", "true")
    evening.read("s4-switch.normal", None)
    expect(why["s4"]).to_have_text("Red: points contact lost; look at its cable")
    evening.read("s3-switch.normal", False)
    evening.read("s3-switch.normal", True)
    expect(why["s3"]).to_contain_text("waits for the host (points moved while locked)")


def test_keys_that_are_out_are_told_with_whom(room: Room, evening: Evening) -> None:
    evening.here(0)
    evening.read("s1-key.hook", False)
    evening.read("s8-key.hook", False)
    page = room.guest()
    expect(page.locator("#keys-summary")).to_have_text("Keys: 2 out")
    page.locator("#keys-summary").click()
    first = page.locator('[data-key="s1-key"]')
    expect(first).to_contain_text("Slate quarry key out, with Slate drag (Ada and Bo)")
    expect(first).to_contain_text("fits Slate quarry")
    expect(page.locator('[data-key="s8-key"]')).to_contain_text("out, nobody named")
    expect(page.locator('[data-key="s2-key"]')).to_contain_text("on its hook")
    expect(row(page, "s1").locator(".row-crews")).to_contain_text("Slate drag")
    expect(row(page, "s1").locator(".row-crews")).to_contain_text("here")
    expect(row(page, "s2").locator(".row-crews")).to_contain_text("planned")


def test_the_layouts_clock_runs_at_its_ratio(room: Room, evening: Evening) -> None:
    evening.wait(420)
    evening.order(Command.ASK, "s2")
    page = room.guest()
    expect(page.locator("#layout-clock")).to_have_text(re.compile(r"^8:4\d am$"))
    expect(page.locator("#session-clock")).to_have_text(re.compile(r"^0:07:\d\d$"))


def test_between_sessions_the_clock_gives_way_to_where_one_is_begun(
    path: Path, browser: Browser
) -> None:
    between = Evening(path, 2, opened=False)
    try:
        with served(path) as (_, url):
            room = Room(browser, url)
            page = room.guest()
            expect(page.locator("#between a")).to_have_attribute("href", "/session")
            expect(page.locator("#session-clock")).to_be_hidden()
            expect(page.locator("#layout-clock")).to_be_hidden()
            expect(page.locator(".row-crews li")).to_have_count(0)
            room.close()
    finally:
        between.close()


def test_eight_busy_spurs_fit_a_wall_without_scrolling(room: Room, evening: Evening) -> None:
    evening.here(0)
    evening.busy()
    page = room.host()
    page.locator('[data-waits="s2"]').wait_for()
    page.keyboard.press("f")
    expect(page.locator("html")).to_have_attribute("data-wall", "yes")
    expect(page.locator("nav")).to_be_hidden()
    expect(page.locator("[data-row]")).to_have_count(8)
    page.wait_for_timeout(500)
    assert scrolls(page) == []
    page.keyboard.press("f")
    expect(page.locator("html")).to_have_attribute("data-wall", "no")
    expect(page.locator("nav")).to_be_visible()


def test_a_wall_without_a_keyboard_is_asked_for_in_the_address(
    room: Room, evening: Evening
) -> None:
    evening.busy()
    page = room.guest(where="?wall")
    expect(page.locator("nav")).to_be_hidden()
    page.wait_for_timeout(500)
    assert scrolls(page) == []


@pytest.mark.parametrize("size", [WALL, (3840, 2160)])
def test_three_badges_push_no_row_off_the_screen(
    path: Path, browser: Browser, size: tuple[int, int]
) -> None:
    six = Evening(path, 6)
    try:
        six.busy()
        six.three_badges("s3")
        with served(path) as (_, url):
            room = Room(browser, url)
            page = room.host(size)
            expect(row(page, "s3").locator(".badge")).to_have_count(3)
            page.wait_for_timeout(500)
            assert scrolls(page) == []
            room.close()
    finally:
        six.close()


def test_the_sound_is_off_until_it_is_wanted_and_then_remembered(room: Room) -> None:
    page = room.host()
    sound = page.locator("#sound")
    expect(sound).to_have_text("Sound: off")
    page.keyboard.press("s")
    expect(sound).to_have_attribute("aria-pressed", "true")
    page.reload()
    expect(sound).to_have_text("Sound: on")


@pytest.mark.parametrize("size", SIZES)
@pytest.mark.parametrize("theme", ["light", "dark"])
def test_axe_finds_nothing_in_either_theme(
    room: Room, evening: Evening, theme: str, size: tuple[int, int]
) -> None:
    axe = pytest.importorskip("axe_playwright_python.sync_playwright", reason="axe is missing")
    evening.here(0)
    evening.busy()
    evening.order(Command.ASK, "s7")
    for where in ("", "bench"):
        page = room.host(size, where, scheme=theme)
        page.locator("[data-row], [data-group]").first.wait_for()
        assert page.evaluate("document.documentElement.scrollWidth - innerWidth") <= 0
        page.emulate_media(reduced_motion="reduce", color_scheme=theme)
        tags = {"runOnly": AXE_RULES.split(", "), "resultTypes": ["violations"]}
        found = axe.Axe().run(page, options=tags).response["violations"]
        said = [
            f"{one['id']}: {node['html'][:160]} {node['failureSummary'][:300]}"
            for one in found
            for node in one["nodes"]
        ]
        assert said == []


@pytest.mark.parametrize("theme", ["light", "dark"])
def test_each_theme_has_its_own_ground(room: Room, theme: str) -> None:
    page = room.guest(scheme=theme)
    ground = page.evaluate("getComputedStyle(document.body).backgroundColor")
    channels = [int(part) for part in re.findall(r"\d+", ground)[:3]]
    assert (sum(channels) > 600) == (theme == "light")


def test_a_print_is_black_on_white_without_the_ways_to_other_pages(room: Room) -> None:
    page = room.guest(scheme="dark")
    page.emulate_media(media="print", color_scheme="dark")
    expect(page.locator("nav")).to_be_hidden()
    colours = page.evaluate(
        "[getComputedStyle(document.body).backgroundColor, getComputedStyle(document.body).color]"
    )
    assert colours == ["rgb(255, 255, 255)", "rgb(0, 0, 0)"]
