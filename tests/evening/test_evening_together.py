"""A host at a wall screen and two crews with phones, from the first job to the debrief."""

from __future__ import annotations

import csv
import re
from pathlib import Path

import pytest
from playwright.sync_api import Page, expect
from service.signing_in import PIN

from evening.shots import Shots
from evening.valley import PHONE, WALL, Valley, link_on

DOCK_NOTE = "Wipe the spout before the dome is shut"
SAW_NOTE = "The crane's arm hangs low over the far bay"
SAID = "showed them how"


def press_tab_to(page: Page, selector: str) -> None:
    """Go with the Tab key to a thing."""
    for _ in range(80):
        page.keyboard.press("Tab")
        if page.locator(selector).first.evaluate("one => one === document.activeElement"):
            return
    raise AssertionError(f"Tab never comes to {selector}")


def prepare_by_keyboard(host: Page) -> None:
    """The first job, and the PIN that it wants, without a mouse."""
    host.locator("#new-job").focus()
    host.keyboard.press("Enter")
    expect(host.locator("#host-pin")).to_be_focused()
    host.keyboard.type(PIN)
    host.keyboard.press("Enter")
    expect(host.locator("#job-name")).to_be_focused()
    host.keyboard.type("Lamp oil for the town")
    host.keyboard.press("Tab")
    host.keyboard.type("Ada and Ben")
    host.keyboard.press("Tab")
    host.keyboard.press("Control+A")
    host.keyboard.type("1")
    press_tab_to(host, ".stop-form select")
    host.keyboard.type("Lamp")
    for does in ("pull", "spot"):
        press_tab_to(host, f"[data-do=add-{does}]")
        host.keyboard.press("Enter")
        host.keyboard.type(f"a tank car to {does}")
        host.keyboard.press("Enter")  # On to its place.
        host.keyboard.type("under the spout" if does == "spot" else "at the pipe")
    press_tab_to(host, ".stop-form textarea")
    host.keyboard.type(DOCK_NOTE)
    press_tab_to(host, "#save-job")
    host.keyboard.press("Enter")
    expect(host.locator("[data-job]")).to_have_count(1)


def prepare_by_mouse(host: Page) -> None:
    """The second job."""
    host.locator("#new-job").click()
    host.locator("#job-name").fill("Boards for the coast")
    host.locator("#job-crew").fill("Cy and Di")
    host.locator("#job-cars").fill("2")
    host.locator("label.choice", has_text="Caboose").click()
    host.locator(".stop-form select").select_option(label="Sawmill")
    host.locator("[data-do=add-spot]").click()
    host.locator("[data-car=spot]").fill("an empty flat car")
    host.locator("[data-place=spot]").fill("the far bay")
    host.locator(".stop-form textarea").fill(SAW_NOTE)
    expect(host.locator("input[value=sawmill-key]")).to_be_checked()
    expect(host.locator("input[value=lower-key]")).not_to_be_checked()


def step(page: Page, ident: str) -> None:
    """The next step that a phone shows."""
    expect(page.locator("#step")).to_have_attribute("data-step", ident)


def press(page: Page, action: str) -> None:
    page.locator(f"#main-action [data-action={action}]").click()


def go(host: Page, page: str) -> None:
    """To another of the host's pages, by the links at the top."""
    host.get_by_role("navigation", name="Pages").get_by_role("link", name=page, exact=True).click()
    host.wait_for_load_state()


def prepare(valley: Valley, host: Page, shots: Shots) -> tuple[str, str]:
    """Two jobs and their sheets; the links to the crews' pages, as phones read them."""
    expect(host.locator("#no-jobs")).to_be_visible()
    shots.take(host, "jobs-none")
    prepare_by_keyboard(host)
    prepare_by_mouse(host)
    shots.take(host, "jobs-form")
    host.locator("#save-job").click()
    expect(host.locator("[data-job]")).to_have_count(2)
    shots.take(host, "jobs")
    links = []
    for place, name in enumerate(("Lamp oil for the town", "Boards for the coast")):
        host.get_by_role("link", name=f"Sheet of {name}").click()
        expect(host.locator(".sheet h2")).to_have_text(name)
        links.append(link_on(host))
        shots.take(host, f"sheet-{place + 1}")
        shots.take_print(host, f"sheet-{place + 1}")
        host.get_by_role("link", name="Back to the jobs").click()
    first, second = links
    return first, second


def brief(host: Page, shots: Shots) -> None:
    """Card after card on the whole screen, and out again."""
    go(host, "Briefing")
    shots.take(host, "briefing")
    shots.take_print(host, "briefing")
    host.locator("#show-full").click()
    expect(host.locator("#show-count")).to_have_text(re.compile(r"^1 of \d+$"))
    host.keyboard.press("ArrowRight")
    expect(host.locator("#show-count")).to_have_text(re.compile(r"^2 of \d+$"))
    host.locator("#show-end").click()
    expect(host.locator("#show-bar")).to_be_hidden()


def open_the_session(host: Page, shots: Shots) -> None:
    go(host, "Session")
    expect(host.locator("#state")).to_have_attribute("data-opened", "no")
    expect(host.locator("#restore-says")).to_have_attribute("data-clear", "yes")
    shots.take(host, "session-between")
    host.locator("#open").click()
    expect(host.locator("#state")).to_have_attribute("data-opened", "yes")
    expect(host.locator("#restore-says")).to_have_attribute("data-clear", "yes")


def ask_and_be_put_off(valley: Valley, host: Page, dock: Page, shots: Shots) -> None:
    """The dock's foreman is the host: not yet, and then released."""
    press(dock, "yard")
    step(dock, "lower-key")
    valley.hands(("lower-key.hook", False))
    step(dock, "ask")
    press(dock, "ask")
    step(dock, "foreman")
    waits = host.locator("[data-waits=oil-dock]")
    expect(waits).to_contain_text("Ada and Ben")
    shots.take(host, "board-desk")
    waits.get_by_role("button", name="Not yet").click()
    expect(dock.locator("#says")).to_have_text("Wait: the foreman says not yet")
    shots.take(dock, "crew-held")
    waits.get_by_role("button", name="Release").click()
    expect(host.locator("#desk")).to_be_hidden()
    step(dock, "oil-dock-switch")


def open_the_dock(valley: Valley, dock: Page, shots: Shots) -> None:
    """The note shows only once the spur is the crew's."""
    assert DOCK_NOTE not in dock.content()
    assert "under the spout" not in dock.content()
    valley.hands(("oil-dock-switch.hasp", False), ("oil-dock-switch.normal", False))
    valley.hands(("oil-dock-switch.reverse", True))
    step(dock, "oil-dock-derail")
    valley.hands(("oil-dock-derail.hasp", False), ("oil-dock-derail.on", False))
    step(dock, "horn")
    expect(dock.locator("#note")).to_have_text(DOCK_NOTE)
    press(dock, "horn")
    step(dock, "work")
    shots.take(dock, "crew-work")


def try_the_brakes(valley: Valley, dock: Page, shots: Shots) -> None:
    """A train of one car: the gauge charges, then waits for leaks."""
    valley.hands(("oil-dock-switch.detector", True), ("oil-dock.detector", True))
    dock.locator("[data-action=start-brake-test]").click()
    step(dock, "brake-test")
    expect(dock.locator("[data-gauge=charging] .dial-value")).to_contain_text("psi")
    shots.take(dock, "crew-brakes")


def open_the_gate(valley: Valley, saw: Page, shots: Shots) -> None:
    """The sawmill's foreman answers by himself; its note waits for the gate."""
    for own in ("yard", "rear"):
        step(saw, own)
        press(saw, own)
    valley.hands(("upper-key.hook", False), ("sawmill-key.hook", False))
    step(saw, "ask")
    press(saw, "ask")
    expect(saw.locator("[data-gauge=foreman] .gauge-words")).to_contain_text("4 s to 12 s")
    shots.take(saw, "crew-foreman")
    step(saw, "sawmill-gate")
    expect(saw.locator("#sealed")).to_contain_text("Sawmill gate")
    assert SAW_NOTE not in saw.content()
    assert "the far bay" not in saw.content()
    valley.hands(("sawmill-gate.hasp", False), ("sawmill-gate.shut", False))
    expect(saw.locator("#note")).to_have_text(SAW_NOTE)
    expect(saw.locator("#cars")).to_contain_text("the far bay")
    step(saw, "sawmill-switch")
    valley.hands(("sawmill-switch.hasp", False), ("sawmill-switch.normal", False))
    valley.hands(("sawmill-switch.reverse", True))
    press(saw, "horn")
    step(saw, "work")
    valley.hands(("sawmill-switch.detector", True))


def break_a_rule(valley: Valley, host: Page, saw: Page, dock: Page, shots: Shots) -> None:
    """The padlock is shut while the points lie for the spur: the host and that crew see it."""
    valley.hands(("sawmill-switch.detector", False), ("sawmill-switch.hasp", True))
    violation = host.locator("[data-violation='1']")
    expect(violation).to_have_attribute("data-rule", "locked-off-normal")
    expect(saw.locator("#broken-head")).to_contain_text("A rule was broken")
    expect(saw.locator(".crew-lamp[data-lamp=red]")).to_contain_text("A rule was broken here")
    expect(dock.locator("#broken-part")).to_be_hidden()
    saw.locator("#broken-part summary").click()
    shots.take(saw, "crew-violation")
    shots.take(host, "board-violation")
    violation.locator(".with-note summary").click()
    violation.locator("input").fill(SAID)
    violation.get_by_role("button", name="Acknowledge").click()
    expect(violation).to_have_attribute("data-acknowledged", "yes")
    expect(violation).to_contain_text(SAID)
    expect(saw.locator("#broken-part")).to_be_hidden()
    valley.hands(("sawmill-switch.hasp", False))


def close_the_dock(valley: Valley, dock: Page) -> None:
    """Once the test is over, out and everything back in the dock's own order."""
    step(dock, "work")
    press(dock, "stretch")
    step(dock, "clear")
    valley.hands(("oil-dock-switch.detector", False), ("oil-dock.detector", False))
    press(dock, "work-done")
    back = {
        "oil-dock-derail": (("oil-dock-derail.on", True), ("oil-dock-derail.hasp", True)),
        "oil-dock-switch": (
            ("oil-dock-switch.reverse", False),
            ("oil-dock-switch.normal", True),
            ("oil-dock-switch.hasp", True),
        ),
    }
    for _ in range(3):
        dock.locator("#step:not([data-step=clear])").wait_for()
        now = dock.locator("#step").get_attribute("data-step") or ""
        if now == "foreman":
            press(dock, "hand-back")
        else:
            valley.hands(*back[now])
        dock.locator(f"#step:not([data-step={now}])").wait_for()
    step(dock, "lower-key")


def close_the_sawmill(valley: Valley, saw: Page) -> None:
    press(saw, "rear")  # The cars are placed, and the caboose is last.
    press(saw, "work-done")
    step(saw, "sawmill-gate")
    valley.hands(("sawmill-gate.shut", True), ("sawmill-gate.hasp", True))
    press(saw, "hand-back")
    step(saw, "sawmill-switch")
    valley.hands(("sawmill-switch.reverse", False), ("sawmill-switch.normal", True))
    valley.hands(("sawmill-switch.hasp", True))
    step(saw, "upper-key")


def end(valley: Valley, host: Page, phones: tuple[Page, Page], shots: Shots) -> None:
    """What is out is told with its place; when all is home, the session is closed."""
    go(host, "Session")
    keys = host.locator("[data-place=keys]")
    expect(keys.locator(".out")).to_have_count(3)
    expect(keys).to_contain_text("Lower valley switch key")
    shots.take(host, "session-out")
    valley.hands(("lower-key.hook", True), ("upper-key.hook", True), ("sawmill-key.hook", True))
    expect(host.locator("#restore-says")).to_have_attribute("data-clear", "yes")
    for phone in phones:
        step(phone, "done")
    shots.take(phones[0], "crew-done")
    shots.take(host, "session-home")
    host.locator("#close").click()
    expect(host.locator("#state")).to_have_attribute("data-opened", "no")
    expect(host.locator("#said")).to_contain_text("Everything is home")
    for phone in phones:
        expect(phone.locator("#alarm")).to_contain_text("ask the host for a new link")
        answer = phone.reload()
        assert answer is not None
        assert answer.status == 410
        expect(phone.locator("h1")).to_have_text("This link is over")
    shots.take(phones[1], "crew-over")


def look_back(host: Page, shots: Shots) -> None:
    """The debrief draws the rounds, the violation and the waits."""
    go(host, "Debrief")
    expect(host.locator(".figures")).to_contain_text("2")
    for name in ("Timeline of each spur", "Timeline of each job", "Waiting", "Time at each step"):
        expect(host.get_by_role("region", name=name, exact=True).locator("svg")).to_be_visible()
    jobs = host.get_by_role("region", name="Timeline of each job")
    for words in ("Lamp oil for the town", "Boards for the coast"):
        expect(jobs).to_contain_text(words)
    expect(host.locator(".violations")).to_contain_text("Locked while not normal")
    expect(host.locator(".violations")).to_contain_text(SAID)
    waits = host.locator("section", has=host.get_by_role("heading", name="Waiting", exact=True))
    expect(waits).to_contain_text(re.compile(r"waited for .* for foremen, .* on brake tests"))
    shots.take(host, "debrief")
    shots.take_print(host, "debrief")


def export(host: Page, folder: Path) -> dict[str, list[dict[str, str]]]:
    """The three tables, as a spreadsheet reads them."""
    tables = {}
    for name in ("Every entry", "Steps", "Violations"):
        with host.expect_download() as download:
            host.get_by_role("link", name=name, exact=True).click()
        path = folder / f"{name}.csv"
        download.value.save_as(path)
        with path.open(encoding="utf-8-sig", newline="") as table:
            tables[name] = list(csv.DictReader(table))
    return tables


@pytest.mark.timeout(240)
def test_a_whole_evening(valley: Valley, shots: Shots, tmp_path: Path) -> None:
    host = valley.somebody("/jobs", WALL)
    links = prepare(valley, host, shots)
    dock, saw = (valley.somebody(link, PHONE) for link in links)
    expect(dock.locator("#says")).to_have_text("The evening has not begun yet")
    shots.take(dock, "crew-not-yet")
    brief(host, shots)
    open_the_session(host, shots)
    go(host, "Board")
    for phone in (dock, saw):
        step(phone, "yard")
    shots.take(dock, "crew-first")
    shots.take(host, "board-rest")
    ask_and_be_put_off(valley, host, dock, shots)
    open_the_dock(valley, dock, shots)
    try_the_brakes(valley, dock, shots)
    open_the_gate(valley, saw, shots)
    break_a_rule(valley, host, saw, dock, shots)
    close_the_dock(valley, dock)
    close_the_sawmill(valley, saw)
    end(valley, host, (dock, saw), shots)
    look_back(host, shots)
    tables = export(host, tmp_path)
    (violation,) = tables["Violations"]
    assert (violation["rule"], violation["note"]) == ("locked-off-normal", SAID)
    assert {row["spur"] for row in tables["Steps"]} == {"oil-dock", "sawmill"}
    assert {"violation", "stage"} <= {row["what"] for row in tables["Every entry"]}
