"""Somebody who has nothing but the address: what comes first, and what may be pressed."""

from __future__ import annotations

import pytest
from playwright.sync_api import expect

from manners.conftest import House
from manners.views import View

BOARD = View("board", "/")
JOBS = View("jobs", "/jobs")
PHONE = (360, 740)


def test_the_board_of_a_new_layout_says_what_comes_first(new_layout: House) -> None:
    page = new_layout.visit(BOARD, PHONE)
    steps = page.locator("#start li")
    expect(steps).to_have_count(4)
    expect(page.locator("#start li[data-done=no]")).to_have_count(2)
    expect(steps.last.locator("a")).to_have_attribute("href", "/session")
    page.locator("#start-pin").click()
    expect(page.locator("#host-dialog")).to_contain_text("spurlock pin")


def test_once_the_evening_has_begun_the_board_is_the_board(evening: House) -> None:
    page = evening.visit(BOARD, PHONE)
    expect(page.locator("#start")).to_be_hidden()
    expect(page.locator("[data-row]").first).to_be_visible()


def test_a_guest_is_told_what_may_be_pressed(evening: House) -> None:
    page = evening.visit(BOARD, PHONE)
    expect(page.locator(".guest-note")).to_contain_text("asks for the host PIN")
    page = evening.visit(JOBS, PHONE)
    page.locator("#guest-sign-in").click()
    expect(page.locator("#host-pin")).to_be_focused()


@pytest.mark.parametrize("path", ["/", "/bench"])
def test_a_page_that_has_heard_nothing_shows_nothing_and_then_says_so(
    evening: House, path: str
) -> None:
    page = evening.visit(BOARD, PHONE)
    page.route("**/api/events*", lambda _: None)  # Never answered.
    page.goto(evening.spurlock.address + path)
    assert page.locator("#alarm").is_hidden()
    expect(page.locator("main > *").first).not_to_be_visible()
    expect(page.locator("#alarm")).to_contain_text("Treat every switch as red")
    assert page.locator("body").get_attribute("data-heard") == "no"
