"""The bench in Chromium over the real demo: signals of contacts, and outputs worked by hand.

Each test's pages are also watched (see ``conftest.py``).
"""

from __future__ import annotations

import pytest
from playwright.sync_api import Locator, Page, expect
from service.processes import Running, until

from browser.conftest import PATIENCE_MS, Open

axe = pytest.importorskip("axe_playwright_python.sync_playwright", reason="axe is missing")

OPTIONS = {"resultTypes": ["violations"], "rules": {"target-size": {"enabled": True}}}
PHONE, DESK = (360, 740), (1280, 800)
HASP, NORMAL = "brickyard-switch.hasp", "brickyard-switch.normal"
GREEN, RED = "brickyard-switch.green", "brickyard-switch.red"

expect.set_options(timeout=PATIENCE_MS)


def contact(page: Page, name: str) -> Locator:
    return page.locator(f'[data-contact="{name}"]')


def output(page: Page, name: str) -> Locator:
    return page.locator(f'[data-output="{name}"]')


def close_session(demo: Running) -> None:
    left = demo.post("/api/session", {"command": "close"})["request"]
    until(lambda: demo.get(f"/api/requests/{left}")["accepted"])
    until(lambda: demo.get("/api/state")["head"]["opened"] is False)


def unfold(page: Page, name: str) -> None:
    output(page, name).locator("summary").click()


def press(page: Page, name: str, command: str) -> None:
    output(page, name).locator(f"[data-by-hand={command}]").click()


def finds_nothing(page: Page) -> None:
    """axe-core, in both themes."""
    for scheme in ("light", "dark"):
        page.emulate_media(color_scheme=scheme)
        found = axe.Axe().run(page, options=OPTIONS).response["violations"]
        assert [(one["id"], [node["html"][:160] for node in one["nodes"]]) for one in found] == []


def wide(page: Page) -> int:
    """By how much the page sticks out at its side."""
    return int(page.evaluate("document.documentElement.scrollWidth - innerWidth"))


def test_a_contact_tells_its_edges_its_bounces_and_how_it_fares(
    open_page: Open, demo: Running
) -> None:
    pages = [open_page("/bench#brickyard", size) for size in (PHONE, DESK)]
    for page in pages:
        expect(contact(page, HASP).locator(".scope figcaption")).to_have_text(
            "no edge this session"
        )
        expect(contact(page, HASP)).to_have_attribute("data-health", "fine")
        expect(contact(page, HASP).locator(".since")).to_have_text("no change this session")
    for made in (False, True, False):
        demo.hand(HASP, made)
    demo.hand(NORMAL, None)
    for page in pages:
        hasp, normal = contact(page, HASP), contact(page, NORMAL)
        expect(hasp.locator(".edges")).to_have_text("3 edges")
        expect(hasp.locator(".scope figcaption")).to_contain_text("last 3 edges in")
        expect(hasp.locator(".scope-line")).to_have_count(1)
        expect(normal).to_have_attribute("data-health", "lost")
        expect(normal.locator(".health")).to_contain_text("look at its cable")
        expect(normal.locator(".scope-unknown")).to_have_count(1)
        assert wide(page) <= 0
        since = hasp.locator(".since")
        expect(since).to_contain_text("changed")
        counts_up(since)


def counts_up(since: Locator) -> None:
    first = since.inner_text()
    until(lambda: since.inner_text() != first, "the time since the last change stands still")


def test_bounces_are_counted_into_bars(open_page: Open, demo: Running) -> None:
    """Simulated contacts are lost and found within one settle time, faster than any hand."""
    bench = open_page("/bench#brickyard", DESK)
    hasp = contact(bench, HASP)

    def bounced() -> bool:
        for made in (False, True) * 4:
            demo.hand(HASP, made)
        return "longest" in hasp.locator(".gaps figcaption").inner_text()

    until(bounced)
    expect(hasp.locator(".gap-bars li")).to_have_count(8)
    assert hasp.locator(".gaps .unseen").inner_text().startswith("Gaps within bounces: ")


def test_one_stand_alone_by_choice_by_link_and_by_keyboard(open_page: Open) -> None:
    bench = open_page("/bench", PHONE)
    groups = bench.locator(".group:visible")
    every = groups.count()
    assert every > 2
    stand = bench.locator("#stand")
    stand.focus()
    bench.keyboard.press("ArrowDown")
    expect(groups).to_have_count(1)
    assert bench.url.endswith(f"#{groups.first.get_attribute('data-group')}")
    stand.select_option("key-board")
    expect(groups.locator("h3")).to_have_text(["Key board"])
    stand.select_option("")
    expect(groups).to_have_count(every)
    linked = open_page("/bench#foundry", PHONE)
    expect(linked.locator(".group:visible")).to_have_attribute("data-group", "foundry")
    expect(linked.locator("#stand")).to_have_value("foundry")


def test_a_hand_shows_on_every_page_until_it_is_taken_off(open_page: Open, demo: Running) -> None:
    bench = open_page("/bench#brickyard", PHONE)
    unfold(bench, GREEN)
    expect(output(bench, GREEN).locator("[data-by-hand=steady]")).to_be_disabled()
    expect(output(bench, GREEN)).to_contain_text("close the session first")
    expect(output(bench, GREEN).locator("[data-by-hand=off]")).to_be_enabled()

    board, phone, wall = open_page("/", DESK), open_page("/", PHONE), open_page("/bench", DESK)
    link = bench.evaluate("fetch('/api/jobs').then((said) => said.json())")["jobs"][0]["link"]
    crew = open_page(link, PHONE)
    unfold(bench, RED)
    press(bench, RED, "steady")
    expect(output(bench, RED)).to_have_attribute("data-by-hand", "yes")
    expect(output(bench, RED).locator(".says")).to_have_text("lit, steady")
    expect(output(bench, RED).locator(".rules")).to_have_text("by the rules: off")
    expect(output(bench, RED).locator(".left")).to_contain_text("s left")
    pages = (board, phone, wall, crew, bench)
    for page in pages:
        band = page.locator("#by-hand")
        expect(band).to_be_visible()
        expect(band).to_contain_text("Red lamp of Brickyard switch worked by hand from the bench")
        expect(band).to_contain_text("Don't trust the lamps there.")
        assert wide(page) <= 0
    lamp = board.locator("article[data-row=brickyard] .lamp").first
    expect(lamp).to_contain_text("By hand")
    expect(lamp).to_have_attribute("data-lamp", "dark")
    for page in pages:
        finds_nothing(page)
    press(bench, RED, "back")
    for page in pages:
        expect(page.locator("#by-hand")).to_be_hidden()
    expect(lamp).to_contain_text("Green")
    expect(output(bench, RED)).to_have_attribute("data-by-hand", "no")
    said = " ".join(remark["text"] for remark in demo.get("/api/state")["remarks"])
    assert "worked by hand from the bench: lit for 60 s, by the host at 127.0.0.1" in said


def test_a_guest_is_asked_for_the_pin_and_the_host_needs_only_the_keyboard(
    open_page: Open, demo: Running
) -> None:
    close_session(demo)
    guest = open_page("/bench#brickyard", PHONE, guest=True)
    unfold(guest, RED)
    press(guest, RED, "steady")
    expect(guest.locator("#host-pin")).to_be_focused()
    guest.keyboard.press("Escape")
    expect(guest.locator("#bench-notice")).to_contain_text("the host PIN was not given")
    assert demo.get("/api/state")["by_hand"] == {}

    bench = open_page("/bench#brickyard", DESK)
    summary = output(bench, GREEN).locator("summary")
    expect(summary).to_be_visible()
    summary.focus()
    bench.keyboard.press("Enter")
    bench.keyboard.press("Tab")
    expect(output(bench, GREEN).locator("[data-by-hand=steady]")).to_be_focused()
    bench.keyboard.press("Tab")
    bench.keyboard.press("Enter")
    expect(output(bench, GREEN)).to_have_attribute("data-by-hand", "yes")
    off = output(bench, GREEN).locator("[data-by-hand=off]")
    expect(off).to_be_focused()
    expect(off).to_have_text("60 s more")
    expect(guest.locator("#by-hand")).to_be_visible()


def test_a_killed_engine_takes_its_hands_with_it(open_page: Open, demo: Running) -> None:
    """After the restart the output shows what the rules say, and no page speaks of a hand.

    And the bench's own stream comes back with a killed screen.
    """
    close_session(demo)
    bench = open_page("/bench#brickyard", DESK)
    unfold(bench, GREEN)
    press(bench, GREEN, "off")
    expect(bench.locator("#by-hand")).to_be_visible()
    demo.kill(demo.engine())
    expect(bench.locator("#by-hand")).to_be_hidden()
    expect(bench.locator("body")).to_have_attribute("data-live", "yes")
    expect(output(bench, GREEN).locator(".says")).to_have_text("lit, steady")

    expect(contact(bench, HASP).locator(".signal")).to_be_visible()
    demo.kill(demo.screen())
    expect(contact(bench, HASP)).to_have_attribute("data-health", "unknown")
    expect(contact(bench, HASP).locator(".signal")).to_be_hidden()
    expect(contact(bench, HASP)).to_have_attribute("data-health", "fine")
