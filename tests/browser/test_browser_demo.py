"""The demo as its host sees it, in Chromium: from a contact to the board and back.

Each test's pages are also watched (see ``conftest.py``): none is ever loaded anew, none logs an
error, and none asks anything of another machine.
"""

from __future__ import annotations

import pytest
from playwright.sync_api import Locator, Page, expect
from service.processes import Running, until

from browser.conftest import PATIENCE_MS, Open, give_up

PHONE, WIDE = (390, 844), (1920, 1080)

expect.set_options(timeout=PATIENCE_MS)


def row(page: Page, spur: str) -> Locator:
    return page.locator(f"article[data-row={spur}]")


def stage_is(page: Page, spur: str, stage: str) -> None:
    """The row's stage, as data and as the step that is drawn as the present one."""
    expect(row(page, spur)).to_have_attribute("data-stage", stage)
    here = row(page, spur).locator(".step[aria-current=step]")
    expect(here).to_have_attribute("data-step", stage)


def touch(bench: Page, contact: str, hand: str) -> None:
    bench.locator(f'[data-contact="{contact}"] [data-hand={hand}]').click()


def force_the_points(demo: Running) -> None:
    """Break a rule: the foundry's points move while its hasp is locked."""
    demo.hand("foundry-switch.normal", False)


def violation(page: Page) -> Locator:
    return page.locator("[data-violation='1']")


def test_a_hand_on_the_bench_page_moves_the_board(open_page: Open) -> None:
    board, bench = open_page("/"), open_page("/bench")
    stage_is(board, "brickyard", "secured")
    touch(bench, "brickyard-switch.hasp", "break")
    stage_is(board, "brickyard", "unlocked")
    touch(bench, "brickyard-switch.normal", "break")
    touch(bench, "brickyard-switch.reverse", "make")
    stage_is(board, "brickyard", "lined")
    touch(bench, "brickyard-switch.detector", "make")
    stage_is(board, "brickyard", "in-use")
    expect(bench.locator('[data-contact="brickyard-switch.detector"]')).to_have_attribute(
        "data-settled", "made"
    )
    lamp = row(board, "brickyard").locator(".lamp").first
    expect(lamp).to_have_attribute("data-lamp", "red")


def test_the_host_answers_for_the_foreman_at_the_board(open_page: Open, demo: Running) -> None:
    board = open_page("/")
    expect(row(board, "brickyard")).to_have_attribute("data-phase", "idle")
    demo.post("/api/orders", {"command": "ask", "spur": "brickyard"})
    expect(row(board, "brickyard")).to_have_attribute("data-phase", "opening")
    expect(row(board, "brickyard").locator("[data-protection=foreman]")).to_contain_text("asked")
    board.locator("[data-waits=brickyard] [data-command=release]").click()
    expect(row(board, "brickyard").locator("[data-protection=foreman]")).to_contain_text("released")
    expect(row(board, "brickyard").locator(".next-step")).to_have_attribute(
        "data-step", "brickyard-switch"
    )


def test_a_violation_appears_is_acknowledged_by_a_click_and_recedes(
    open_page: Open, demo: Running
) -> None:
    board = open_page("/")
    expect(board.locator("#no-violations")).to_be_visible()
    force_the_points(demo)
    expect(violation(board)).to_have_attribute("data-rule", "moved-while-locked")
    expect(violation(board)).to_have_attribute("data-acknowledged", "no")
    expect(violation(board).locator(".why")).to_be_visible()
    expect(row(board, "foundry").locator(".badge-open")).to_be_visible()
    board.locator("[data-acknowledge='1']").click()
    expect(violation(board)).to_have_attribute("data-acknowledged", "yes")
    expect(violation(board).locator(".violation-body")).to_be_hidden()
    expect(row(board, "foundry").locator(".badge-open")).to_have_count(0)
    expect(board.locator("#no-violations")).to_be_visible()


def test_a_violation_can_be_acknowledged_with_the_keyboard_alone(
    open_page: Open, demo: Running
) -> None:
    board = open_page("/")
    force_the_points(demo)
    button = board.locator("[data-acknowledge='1']")
    button.wait_for()
    for _ in range(60):
        board.keyboard.press("Tab")
        if button.evaluate("element => element === document.activeElement"):
            break
    expect(button).to_be_focused()
    assert button.evaluate("element => getComputedStyle(element).outlineStyle") != "none"
    board.keyboard.press("Enter")
    expect(violation(board)).to_have_attribute("data-acknowledged", "yes")


def test_the_stream_comes_back_with_the_screen(open_page: Open, demo: Running) -> None:
    board, phone = open_page("/"), open_page("/", PHONE)
    stage_is(board, "brickyard", "secured")
    demo.kill(demo.screen())
    for page in (board, phone):
        expect(page.locator("body")).to_have_attribute("data-connected", "no")
        expect(page.locator("#alarm")).to_be_visible()
    for page in (board, phone):
        expect(page.locator("body")).to_have_attribute("data-live", "yes")
        expect(page.locator("#alarm")).to_be_hidden()
    demo.hand("brickyard-switch.hasp", False)
    for page in (board, phone):
        stage_is(page, "brickyard", "unlocked")


def test_what_happened_while_the_screen_was_gone_is_there_when_it_is_back(
    open_page: Open, demo: Running
) -> None:
    board = open_page("/")
    force_the_points(demo)
    demo.hand("brickyard-switch.hasp", False)
    demo.kill(demo.screen())
    expect(board.locator("body")).to_have_attribute("data-live", "yes")
    stage_is(board, "brickyard", "unlocked")
    expect(board.locator("[data-rule=moved-while-locked]")).to_be_visible()


def nothing_seems_safe(page: Page) -> None:
    """No green lamp, no step that claims to be sure, and an alarm that says so."""
    expect(page.locator("#alarm")).to_be_visible()
    expect(page.locator("#alarm")).to_contain_text("every switch as red")
    expect(page.locator(".lamp[data-lamp=green]")).to_have_count(0)
    expect(page.locator("article[data-sure=yes]")).to_have_count(0)
    expect(page.locator(".step[data-sure=yes]")).to_have_count(0)


@pytest.mark.parametrize("size", [WIDE, PHONE])
def test_a_board_without_an_engine_shows_nothing_as_safe(
    open_page: Open, demo: Running, size: tuple[int, int]
) -> None:
    board, bench = open_page("/", size), open_page("/bench", size)
    expect(board.locator(".lamp[data-lamp=green]").first).to_be_visible()
    engine = demo.engine()
    demo.kill(engine)
    # While the engine is away; what is seen then must hold together, so it is one look.
    board.wait_for_function(
        """() => document.body.dataset.live === "no"
            && !document.querySelector("#alarm").hidden
            && /treat every switch as red|nothing is proven/i.test(
                document.querySelector("#alarm").innerText)
            && !document.querySelector(".lamp[data-lamp=green]")
            && !document.querySelector("article[data-sure=yes], .step[data-sure=yes]")"""
    )
    until(lambda: demo.child("firmware_py.service.engine_process") not in {None, engine})
    for page in (board, bench):
        expect(page.locator("body")).to_have_attribute("data-live", "yes")
        expect(page.locator("#alarm")).to_be_hidden()
    expect(board.locator(".lamp[data-lamp=green]").first).to_be_visible()
    demo.hand("brickyard-switch.hasp", False)
    stage_is(board, "brickyard", "unlocked")


def test_a_board_that_has_lost_its_screen_shows_nothing_as_safe(
    open_page: Open, demo: Running
) -> None:
    board = open_page("/")
    demo.stop()
    nothing_seems_safe(board)


@pytest.mark.parametrize("size", [WIDE, PHONE])
@pytest.mark.parametrize("path", ["/", "/bench"])
def test_no_page_is_wider_than_its_window(
    open_page: Open, demo: Running, path: str, size: tuple[int, int]
) -> None:
    page = open_page(path, size)
    force_the_points(demo)
    demo.hand("creamery.detector", True)
    demo.hand("oil-dock-switch.hasp", None)
    demo.hand("sawmill-switch.hasp", False)
    if path == "/":
        expect(violation(page)).to_be_visible()
        expect(page.locator("#faults .fault").first).to_be_attached()
    else:
        lost = page.locator('[data-contact="oil-dock-switch.hasp"]')
        expect(lost).to_have_attribute("data-settled", "unknown")
    width = page.evaluate("document.documentElement.scrollWidth")
    assert width <= size[0]
    beyond = page.evaluate(
        """width => [...document.querySelectorAll("body *")]
            .filter(one => one.getClientRects().length)
            .filter(one => one.getBoundingClientRect().right > width + 1)
            .map(one => `${one.tagName}.${one.className}`)""",
        size[0],
    )
    assert beyond == []


def test_no_skip_passes_where_everything_is_installed(monkeypatch: pytest.MonkeyPatch) -> None:
    names = ("CI", "SPURLOCK_ALLOW_NO_SKIPS")
    for name in names:
        monkeypatch.delenv(name, raising=False)
    with pytest.raises(pytest.skip.Exception, match="not there"):
        give_up("not there")
    for name in names:
        with monkeypatch.context() as patch:
            patch.setenv(name, "true")
            with pytest.raises(pytest.fail.Exception, match="not there"):
                give_up("not there")
