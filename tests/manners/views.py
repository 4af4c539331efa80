"""Every page there is, in each state that looks different: where it is and how one gets there."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

from playwright.sync_api import Page, expect


def _nothing(_: Page) -> None:
    pass


@dataclass(frozen=True)
class View:
    """``arrive`` is done once the page is loaded; ``host`` has given the PIN before."""

    name: str
    path: str
    arrive: Callable[[Page], None] = _nothing
    host: bool = False


def _click(selector: str, then: str) -> Callable[[Page], None]:
    """Press something, and wait for what it opens."""

    def arrive(page: Page) -> None:
        page.locator(selector).first.click()
        expect(page.locator(then).first).to_be_visible()

    return arrive


def _wrong_pin(page: Page) -> None:
    _click("#host", "#host-pin")(page)
    page.keyboard.press("Enter")
    expect(page.locator("#host-notice")).to_be_visible()


def _unfold(page: Page) -> None:
    """Open everything that can be unfolded."""
    page.evaluate(
        "() => document.querySelectorAll('details').forEach((one) => { one.open = true; })"
    )


def _bench_unfolded(page: Page) -> None:
    """Every hand switch, once the bench's own stream has told what a hand may do."""
    expect(page.locator(".hand-switch").first).to_be_visible()
    _unfold(page)


def _one_stand(page: Page) -> None:
    page.locator("#stand").select_option("foundry")
    expect(page.locator(".group:visible")).to_have_count(1)


def _led_by_voice(page: Page) -> None:
    expect(page.locator("#voice")).to_be_visible()
    _unfold(page)


def _no_jobs(page: Page) -> None:
    expect(page.locator("#no-jobs")).to_be_visible()


def _forecast(page: Page) -> None:
    """Have one made, unless that was done before, and unfold all of it."""
    if not page.locator(".verdict").count():
        page.locator("#make").click()
        expect(page.locator(".verdict")).to_be_visible()
    _unfold(page)


def _refused_job(page: Page) -> None:
    _click("#new-job", "#save-job")(page)
    page.locator("#save-job").click()
    expect(page.locator("#editor .notice, #editor [role=alert]").first).to_be_visible()


def at_work(link: str, dropped: str) -> Sequence[View]:
    """An evening's pages. ``link`` is the path of a crew's page, ``dropped`` that of a dead one."""
    return (
        View("board", "/"),
        View("board unfolded", "/", _unfold, host=True),
        View("wall", "/?wall"),
        View("shortcuts", "/", _click("#help", "#shortcuts")),
        View("PIN", "/", _click("#host", "#host-pin")),
        View("PIN refused", "/session", _wrong_pin),
        View("signed in", "/bench", _click("#host", "[data-door=leave]"), host=True),
        View("bench", "/bench", _bench_unfolded, host=True),
        View("bench of one stand", "/bench", _one_stand),
        View("jobs", "/jobs", host=True),
        View("jobs seen by a guest", "/jobs"),
        View("new job", "/jobs", _refused_job, host=True),
        View("job edited", "/jobs", _click("[data-do=edit]", "#save-job"), host=True),
        View("job dropped?", "/jobs", _click("[data-do=drop]", "dialog[open]"), host=True),
        View("jobs imported", "/jobs", _click("#import-jobs", "#import-text"), host=True),
        View("forecast", "/forecast", _forecast, host=True),
        View("forecast seen by a guest", "/forecast", _unfold),
        View("sheet", "/jobs/1/sheet", _unfold, host=True),
        View("sheet seen by a guest", "/jobs/1/sheet"),
        View("sheet of no job", "/jobs/999/sheet", host=True),
        View("pace", "/pace", _unfold, host=True),
        View("pace seen by a guest", "/pace"),
        View("new locomotive", "/pace", _click("#loco-new", "#loco-save"), host=True),
        View("card of no locomotive", "/pace/locomotives/999/card", host=True),
        View("card seen by a guest", "/pace/locomotives/1/card"),
        View("briefing", "/briefing"),
        View("briefing shown", "/briefing", _click("#show-full", "#show-bar")),
        View("proof", "/proof"),
        View("session", "/session", host=True),
        View("debrief", "/debrief", _unfold),
        View("debrief by number", "/debrief/1", host=True),
        View("debrief of none", "/debrief/999"),
        View("crew", link),
        View("crew led by voice", f"{link}?alone=1", _led_by_voice),
        View("crew of no link", "/crew/nobody"),
        View("crew of a dropped job", dropped),
        View("no commissioning", "/commission"),
        View("no such page", "/nowhere"),
    )


BETWEEN: Sequence[View] = (
    View("board between sessions", "/"),
    View("no PIN set", "/", _click("#host", "#host-dialog")),
    View("session not open", "/session"),
    View("no jobs", "/jobs", _no_jobs),
    View("no forecast", "/forecast"),
    View("no debrief", "/debrief"),
    View("briefing before the first session", "/briefing"),
    View("pace without a trap", "/pace"),
    View("bench at rest", "/bench"),
    View("no commissioning", "/commission"),
)
"""What the first host of a new layout finds."""
