"""The commissioning page in Chromium, as large as a phone: a builder under the benchwork."""

from __future__ import annotations

import re
import signal
import sys
from collections.abc import Iterator
from pathlib import Path

import pytest
from browser.conftest import ARGUMENTS, LOST, PATIENCE_MS, Watch, give_up
from playwright.sync_api import Browser, Page, expect, sync_playwright
from service.processes import free_port, until

from firmware_py.commissioning.model import Finding
from firmware_py.commissioning.wires import wires_of

from .checking import as_done, as_named
from .faults import OF_LAMPS, Fault, Harness, Wrong
from .layouts import KILN, kiln
from .phones import Sat, sitting

PHONE = {"width": 360, "height": 740}
WRONG = (
    Wrong(Fault.SWAP, ("kiln-switch.hasp", "kiln-switch.normal")),
    Wrong(Fault.BOUNCE, ("kiln-key.hook",)),
    Wrong(Fault.INVERT, ("kiln.fouling",)),
    Wrong(Fault.LAMP_SWAP, ("green of kiln-switch", "white of kiln-switch")),
)
CARD = "() => ({ ...document.getElementById('step').dataset })"
WAITS = "button[data-say={}]:not([aria-disabled])"
BYSTANDERS = (*LOST, "status of 401", "status of 409")

expect.set_options(timeout=PATIENCE_MS)


@pytest.fixture(scope="module")
def browser() -> Iterator[Browser]:
    with sync_playwright() as playwright:
        found = Path("/usr/bin/chromium")
        if not found.exists():
            give_up("Chromium is not installed (apt install chromium)")
        browser = playwright.chromium.launch(executable_path=found, args=ARGUMENTS)
        yield browser
        browser.close()


def open_page(browser: Browser, sat: Sat, watch: Watch, *, host: bool = True) -> Page:
    """The page on a phone, of somebody who has given the PIN or of somebody who has not."""
    context = browser.new_context(viewport=PHONE, reduced_motion="reduce")
    context.set_default_timeout(PATIENCE_MS)
    if host:
        name, _, value = sat.host().sign_in()["Cookie"].partition("=")
        context.add_cookies([{"name": name, "value": value, "url": sat.address}])
    page = context.new_page()
    watch.follow(page, *BYSTANDERS)
    page.goto(f"{sat.address}/commission")
    page.locator("body[data-word=live]").wait_for()
    return page


class Builder:
    """Does what the page says, as anyone would who sees things and not wires."""

    def __init__(self, page: Page, sat: Sat) -> None:
        self.page = page
        self.sat = sat
        outputs = dict.fromkeys(wires_of(kiln()).outputs, False)
        self.eyes = Harness(outputs, [one for one in WRONG if one.fault in OF_LAMPS])
        self.met: list[str] = []

    def work(self) -> None:
        """Go on until all is through."""
        while (card := self.page.evaluate(CARD))["step"] != "finished":
            self.step(card)
            number = card["number"]
            self.page.wait_for_function(
                "n => document.getElementById('step').dataset.number !== n", arg=number
            )

    def step(self, card: dict[str, str]) -> None:
        self.met.append(card["step"])
        match card["step"]:
            case "prepare":
                self.press("do")
            case "make" | "break":
                self.move(card)
            case "dark" | "look":
                self.look(card["about"])
            case _:
                pass

    def move(self, card: dict[str, str]) -> None:
        """Move what is asked for, see it move live, and say so if the page does not go on."""
        before = self.page.locator("#levels").inner_text()
        self.sat.type(f"{card['step']} {card['about']}")
        self.page.wait_for_function(
            "([number, before]) => document.getElementById('step').dataset.number !== number"
            " || document.getElementById('levels').innerText !== before",
            arg=[card["number"], before],
        )
        self.page.wait_for_timeout(1_200)
        if self.page.evaluate(CARD)["number"] == card["number"]:
            self.press("done")

    def look(self, about: str) -> None:
        lit = [name for name in self.eyes.inverted if self.eyes.shows(name, {about} - {""})]
        if lit in ([], [about]):
            words = "Yes, only that" if lit else "No, nothing"
            self.page.get_by_role("button", name=words, exact=True).click()
            return
        self.press("else")
        for box in self.page.locator("#outputs input").all():
            box.set_checked(box.get_attribute("value") in lit)
        self.page.locator("#these").click()

    def press(self, say: str) -> None:
        self.page.locator(WAITS.format(say)).first.click()


@pytest.mark.timeout(300)
def test_a_whole_commissioning_on_a_phone_finds_every_fault(
    browser: Browser, tmp_path: Path
) -> None:
    """In the very words of the terminal; the record is signed, and printed, on the phone."""
    watch = Watch()
    with sitting(tmp_path, KILN, WRONG) as sat:
        page = open_page(browser, sat, watch)
        builder = Builder(page, sat)
        builder.work()
        assert {"prepare", "listen", "make", "break", "dark", "look"} == {*builder.met}
        shown = sat.shown()
        found = [Finding(**one) for one in shown["findings"]]
        assert as_named(found) == as_done(list(WRONG))
        terminal = " ".join(sat.said.split())
        items = page.locator("#findings .finding")
        expect(items).to_have_count(len(WRONG))
        for item in items.all():
            kind = item.locator(".kind").inner_text().upper()
            text, mend = item.locator("span").inner_text(), item.locator(".quiet").inner_text()
            assert f"{kind}: {text} {mend}" in terminal
        assert page.locator("#progress-text").inner_text() == "10 of 10 wires"
        assert "settle = 0.13" in page.locator("#findings").inner_text()
        sign_and_read(page, sat)
        page.context.close()
        watch.judge(sat)


def sign_and_read(page: Page, sat: Sat) -> None:
    """Sign without a name, which is refused; then with one, and read the record on paper."""
    page.locator("[data-say=sign]").click()
    expect(page.locator("#notice")).to_have_text("By whom? Write a name first.")
    page.locator("#by_whom").fill("N. Tallow")
    page.locator("#repairs").fill("none yet;\nto be mended on Thursday")
    page.locator(WAITS.format("sign")).click()
    page.get_by_role("link", name="Read it, or print it").click()
    record = page.locator("article").inner_text()
    terminal = " ".join(sat.said.split())
    for row in page.locator(".record-fields > div").all():
        heading = row.locator("dt").inner_text()
        assert f"{heading}: {row.locator('dd p').first.inner_text()}" in terminal
    assert "to be mended on Thursday" in record
    assert re.search(r"Next due\s+\d{4}-\d\d-\d\d", record)
    page.emulate_media(media="print")
    assert page.locator("article").is_visible()
    assert not page.locator("#print").is_visible()
    assert page.pdf().startswith(b"%PDF")
    page.emulate_media(media="screen")
    page.get_by_role("link", name="To the test of the wires").click()
    expect(page.locator("#records li")).to_contain_text("by N. Tallow: not in order: 4 faults left")


def tab_to(page: Page, selector: str) -> None:
    """Press Tab until this has the focus."""
    page.locator(selector).first.wait_for()
    for _ in range(60):
        if page.evaluate("s => document.activeElement?.matches(s) ?? false", selector):
            return
        page.keyboard.press("Tab")
    raise AssertionError(f"Tab never comes to {selector}")


@pytest.mark.timeout(300)
def test_the_keyboard_alone_is_enough_and_a_guest_is_asked_for_the_pin(
    browser: Browser, tmp_path: Path
) -> None:
    watch = Watch()
    with sitting(tmp_path) as sat:
        page = open_page(browser, sat, watch, host=False)
        press(page, WAITS.format("do"))
        expect(page.locator("#host-pin")).to_be_focused()
        page.keyboard.type(sat.pin)
        page.keyboard.press("Enter")
        page.locator("[data-step=make]").wait_for()
        press(page, WAITS.format("rest"))
        expect(page.locator("#says")).to_have_text("Stopped for now")
        press(page, WAITS.format("go-on"))
        page.locator("[data-step=prepare]").wait_for()
        press(page, WAITS.format("end"))
        assert page.locator("[data-say=end]").inner_text() == "Leave all these wires untested?"
        page.keyboard.press("Enter")
        page.locator("[data-step=finished]").wait_for()
        tab_to(page, "#by_whom")
        page.keyboard.type("P. Wicket")
        page.keyboard.press("Enter")
        page.locator("#how a").wait_for()
        page.context.close()
        watch.judge(sat)


def press(page: Page, selector: str) -> None:
    """Come to a button by the keyboard, and press it."""
    tab_to(page, selector)
    page.keyboard.press("Enter")


@pytest.mark.timeout(300)
def test_a_page_whose_test_has_died_says_so(browser: Browser, tmp_path: Path) -> None:
    watch = Watch()
    with sitting(tmp_path) as sat:
        page = open_page(browser, sat, watch)
        expect(page.locator("#answers button")).to_have_count(1)
        sat.process.send_signal(signal.SIGKILL)
        expect(page.locator("#says")).to_have_text("Not connected")
        expect(page.locator("#alarm-head")).to_have_text("No connection to the screen.")
        expect(page.locator("#answers button")).to_have_count(0)
        expect(page.locator("#more button")).to_have_count(0)
        restarted(browser, sat, page, tmp_path)
        page.context.close()
        assert watch.errors == []


def restarted(browser: Browser, sat: Sat, page: Page, folder: Path) -> None:
    """A screen comes back at the same place without a sitting: the open page says what is so."""
    arguments = ["--logbook", str(folder / "kiln.sqlite")]
    screen = Sat(arguments, folder, sat.port, (sys.executable, "-m", "web"))
    try:
        expect(page.locator("#says")).to_have_text("The test has died")
        expect(page.locator("#alarm-head")).to_have_text("The test is not heard any more.")
        expect(page.locator("#command")).to_have_text(re.compile("spurlock commission .*--phone"))
        assert page.locator("#levels li").count() == 0
        expect(page.locator("#answers button")).to_have_count(0)
    finally:
        screen.stop()


def test_before_any_test_the_page_says_how_one_is_begun(browser: Browser, tmp_path: Path) -> None:
    arguments = ["--logbook", str(tmp_path / "new.sqlite")]
    screen = Sat(arguments, tmp_path, free_port(), (sys.executable, "-m", "web"))
    page = browser.new_page(viewport=PHONE)
    try:
        until(lambda: screen.get("/api/commission"))
        page.goto(f"{screen.address}/commission")
        expect(page.locator("#says")).to_have_text("No test goes on")
        expect(page.locator("#begin-part")).to_contain_text("Stop spurlock run")
        expect(page.locator("#no-records")).to_be_visible()
    finally:
        page.close()
        screen.stop()
