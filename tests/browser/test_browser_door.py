"""The host's door in Chromium: a guest is asked for the PIN, and what becomes of what is typed."""

from __future__ import annotations

import re

from playwright.sync_api import Locator, Page, expect
from service.processes import Running

from browser.conftest import PATIENCE_MS, Open

PHONE = (360, 640)

expect.set_options(timeout=PATIENCE_MS)


def dialog(page: Page) -> Locator:
    return page.locator("#host-dialog")


def button(page: Page) -> Locator:
    return page.locator("#host")


def ask_for_the_brickyard(page: Page) -> None:
    page.locator("[data-command=ask][data-spur=brickyard]").click()


def phase(demo: Running) -> str:
    return str(demo.get("/api/state")["rows"]["brickyard"]["phase"])


def give(page: Page, pin: str) -> None:
    page.locator("#host-pin").fill(pin)
    page.keyboard.press("Enter")


def test_a_guest_who_asks_is_asked_for_the_pin_and_then_it_is_done(
    open_page: Open, demo: Running
) -> None:
    board, bench = open_page("/"), open_page("/bench", PHONE, guest=True)
    expect(button(bench)).to_contain_text("sign in")
    ask_for_the_brickyard(bench)
    expect(dialog(bench)).to_be_visible()
    expect(bench.locator("#host-pin")).to_be_focused()
    give(bench, demo.pin)
    expect(dialog(bench)).to_have_count(0)
    expect(button(bench)).to_have_attribute("data-host", "signed-in")
    expect(bench.locator("body")).to_have_attribute("data-host", "yes")
    row = board.locator("article[data-row=brickyard]")
    expect(row).to_have_attribute("data-phase", "opening")


def test_escape_cancels_and_nothing_was_asked(open_page: Open, demo: Running) -> None:
    bench = open_page("/bench", guest=True)
    ask_for_the_brickyard(bench)
    expect(dialog(bench)).to_be_visible()
    bench.keyboard.press("Escape")
    expect(dialog(bench)).to_have_count(0)
    expect(bench.locator("#bench-notice")).to_contain_text("the host PIN was not given")
    expect(button(bench)).to_have_attribute("data-host", "guest")
    assert phase(demo) == "idle"


def test_a_wrong_pin_is_told_and_too_many_have_to_wait(open_page: Open, demo: Running) -> None:
    bench = open_page("/bench", guest=True)
    button(bench).click()
    notice = bench.locator("#host-notice")
    for _ in range(5):
        give(bench, f"not-{demo.pin}")
        expect(notice).to_have_text("That is not the host PIN.")
        expect(bench.locator("[data-door=enter]")).to_have_attribute("aria-disabled", "false")
    give(bench, demo.pin)
    expect(notice).to_have_text(re.compile(r"^Too many wrong PINs; wait \d+ s\.$"))
    expect(bench.locator("[data-door=enter]")).to_have_text(re.compile(r"^Wait \d+ s$"))
    expect(bench.locator("[data-door=enter]")).to_have_text("Sign in")
    give(bench, demo.pin)
    expect(dialog(bench)).to_have_count(0)
    expect(button(bench)).to_have_attribute("data-host", "signed-in")


def test_the_host_signs_out_and_every_tab_of_his_knows(open_page: Open, demo: Running) -> None:
    one, other = open_page("/"), open_page("/bench")
    for page in (one, other):
        expect(button(page)).to_have_attribute("data-host", "signed-in")
    button(one).click()
    one.locator("[data-door=leave]").click()
    for page in (one, other):
        expect(button(page)).to_have_attribute("data-host", "guest")
        expect(page.locator("body")).to_have_attribute("data-host", "no")


def test_the_door_works_with_the_keyboard_alone(open_page: Open, demo: Running) -> None:
    board = open_page("/", guest=True)
    button(board).focus()
    board.keyboard.press("Enter")
    expect(board.locator("#host-pin")).to_be_focused()
    for _ in range(8):  # Focus stays in the dialog, or goes to the browser's own buttons.
        board.keyboard.press("Tab")
        assert board.evaluate(
            "document.activeElement === document.body || !!document.activeElement.closest('dialog')"
        )
    board.locator("#host-pin").focus()
    board.keyboard.type(demo.pin)
    board.keyboard.press("Enter")
    expect(dialog(board)).to_have_count(0)
    expect(button(board)).to_be_focused()
    expect(button(board)).to_have_attribute("data-host", "signed-in")
