"""Small and large screens, those who want no motion, the keyboard alone, paper, and no network."""

from __future__ import annotations

from dataclasses import dataclass, field
from functools import cache
from urllib.parse import urlsplit

import pytest
from playwright.sync_api import Page

from manners.conftest import House
from manners.views import View

NARROW, DESK, HUGE = (360, 740), (1280, 800), (3840, 2160)

SEEN = "one.checkVisibility({ visibilityProperty: true })"
BEYOND = """width => [...document.querySelectorAll("body *")]
    .filter((one) => one.getClientRects().length)
    .filter((one) => !one.closest(".scroller, .unseen, .skip, .host-state"))
    .filter((one) => one.getBoundingClientRect().right > width + 1)
    .map((one) => `${one.tagName}.${one.className}#${one.id}`)"""
"""What sticks out of the window to the right; what scrolls in a frame of its own may."""
CONTROLS = """() => {
  const all = 'a[href], button:not([disabled]), input:not([type="radio"]), select, textarea, '
    + 'summary, [tabindex="0"]';
  const root = document.querySelector("dialog[open]") ?? document;
  window.controls = [...root.querySelectorAll(all)].filter((one) => SEEN);
  window.reached = new Set();
  window.unseen = [];
  document.addEventListener("focusin", ({ target }) => {
    window.reached.add(target);
    const { outlineStyle, outlineWidth } = getComputedStyle(target);
    if (outlineStyle !== "none" && parseFloat(outlineWidth) >= 2) return;
    window.unseen.push(target.outerHTML.slice(0, 120));
  });
  return window.controls.length;
}""".replace("SEEN", SEEN)
"""Note all that is pressed or filled in; radio buttons are one group, which has its own keys."""
LEFT_OUT = """() => window.controls
    .filter((one) => one.isConnected && SEEN && !window.reached.has(one))
    .map((one) => one.outerHTML.slice(0, 120))""".replace("SEEN", SEEN)
LETTERS = """() => [...document.querySelectorAll("body *")]
    .filter((one) => [...one.childNodes].some((node) => node.nodeType === 3 && node.data.trim()))
    .filter((one) => SEEN && !one.closest("svg, noscript, .unseen, .skip"))
    .map((one) => [parseFloat(getComputedStyle(one).fontSize), one.outerHTML.slice(0, 120)])
""".replace("SEEN", SEEN)
MOVING = "document.getAnimations().filter((one) => one.playState === 'running').length"


@pytest.mark.timeout(300)
def test_no_page_scrolls_sideways_on_a_small_phone(every_house: House) -> None:
    wide = []
    for view in every_house.views:
        page = every_house.visit(view, NARROW)
        beyond = page.evaluate(BEYOND, NARROW[0])
        if page.evaluate("document.documentElement.scrollWidth") > NARROW[0] or beyond:
            wide.append((view.name, beyond))
    assert wide == []


@pytest.mark.timeout(300)
def test_letters_on_a_wall_are_large_and_fit(every_house: House) -> None:
    """A screen of 3840 by 2160 is read from some metres: common practice, no source."""
    small = []
    for view in every_house.views:
        page = every_house.visit(view, HUGE)
        assert page.evaluate("document.documentElement.scrollWidth") <= HUGE[0], view.name
        body = page.evaluate("parseFloat(getComputedStyle(document.body).fontSize)")
        assert body >= 0.014 * HUGE[1], view.name
        small += [(view.name, *one) for one in page.evaluate(LETTERS) if one[0] < 0.01 * HUGE[1]]
    assert small == []


@dataclass
class AtDesk:
    """What one round through all views has shown; each of the tests below looks at one part."""

    moving: list[str] = field(default_factory=list)
    unreached: list[tuple[str, object]] = field(default_factory=list)
    printed: list[tuple[str, object]] = field(default_factory=list)


@cache
def at_desk(house: House) -> AtDesk:
    """Go round once: a page is opened in a second or two, and there are many."""
    found = AtDesk()
    house.watch.errors.clear()
    for view in house.views:
        page = house.visit(view, DESK)
        if page.evaluate(MOVING):
            found.moving.append(view.name)
        found.unreached += [(view.name, one) for one in _by_keyboard(page)]
        page.emulate_media(media="print", color_scheme="dark")
        found.printed += [(view.name, one) for one in _on_paper(page)]
    house.leave()
    return found


@pytest.mark.timeout(600)
def test_nothing_moves_for_those_who_want_no_motion(house: House) -> None:
    assert at_desk(house).moving == []


def test_for_others_lamps_do_flash(evening: House) -> None:
    """Sooner or later a crew breaks a rule, which nobody here acknowledges."""
    page = evening.visit(View("board", "/"), DESK, motion="any")
    page.wait_for_function(f"() => {MOVING}")


@pytest.mark.timeout(600)
def test_the_keyboard_reaches_every_control_and_one_sees_where_it_is(house: House) -> None:
    assert at_desk(house).unreached == []


def _by_keyboard(page: Page) -> list[object]:
    """What the keyboard does not reach, and where one does not see that it has."""
    count = page.evaluate(CONTROLS)
    if not count:
        return ["nothing to press"]
    # What is drawn anew meanwhile may cost some rounds.
    for pressed in range(3 * count + 20):
        page.keyboard.press("Tab")
        if pressed % 10 == 9 and not page.evaluate(LEFT_OUT):
            break
    unseen = [f"focus not seen: {one}" for one in page.evaluate("window.unseen")]
    return [*page.evaluate(LEFT_OUT), *unseen]


@pytest.mark.timeout(600)
def test_on_paper_there_is_nothing_to_press(house: House) -> None:
    assert at_desk(house).printed == []


def _on_paper(page: Page) -> list[object]:
    shown: list[object] = page.evaluate(
        """() => [...document.querySelectorAll("nav, button, .skip, #host")]
            .filter((one) => SEEN)
            .map((one) => one.outerHTML.slice(0, 120))""".replace("SEEN", SEEN)
    )
    ground = page.evaluate("getComputedStyle(document.body).backgroundColor")
    return shown if ground == "rgb(255, 255, 255)" else [*shown, f"the ground is {ground}"]


@pytest.mark.timeout(600)
def test_pages_ask_nothing_of_any_other_machine(house: House) -> None:
    """The browser could not have reached it; it was not even tried, and no page complained."""
    at_desk(house)
    house.watch.judge(house.spurlock)
    asked = {urlsplit(url).path for url in house.watch.urls}
    assert {view.path.partition("?")[0] for view in house.views} <= asked
