"""A whole club as its host sees it in Chromium: real Mosquitto, real PostgreSQL, three boxes.

It is the club that ``spurlock club`` starts for trying, with nobody at work but the tests.
"""

from __future__ import annotations

import os
import shutil
import signal
import sqlite3
from collections.abc import Iterator
from contextlib import closing
from pathlib import Path
from typing import Any

import pytest
from playwright.sync_api import Browser, Locator, Page, expect, sync_playwright
from service.processes import Running, children_of, running, until

from club.machines import give_up
from firmware_py.service.trial.postgresql import folders
from firmware_py.service.trial.programs import found

PATIENCE_MS = 60_000
PHONE, WIDE = (360, 740), (1280, 800)
ROOMS = ("lower-room", "middle-room", "upper-room")
SAYS_NOTHING = ("ERR_CONNECTION_REFUSED", "ERR_INCOMPLETE_CHUNKED_ENCODING", "status of 401")

axe = pytest.importorskip("axe_playwright_python.sync_playwright", reason="axe is missing")
expect.set_options(timeout=PATIENCE_MS)
pytestmark = pytest.mark.timeout(300)


@pytest.fixture(scope="module")
def folder(memory: Path) -> Path:
    return memory


@pytest.fixture(scope="module")
def club(folder: Path) -> Iterator[Running]:
    if found("mosquitto") is None or found("initdb", *folders()) is None:
        give_up("Mosquitto or PostgreSQL is not installed (apt install mosquitto postgresql)")
    arguments = ["club", "--no-crew", "--folder", str(folder / "all")]
    with running(arguments, folder) as club:
        until(lambda: all_guard(club), f"they never came to guard: {club.said}")
        yield club


@pytest.fixture(scope="module")
def browser(club: Running) -> Iterator[Browser]:
    chromium = shutil.which("chromium")
    if chromium is None:
        give_up("Chromium is not installed (apt install chromium)")
    arguments = ["--no-sandbox", "--disable-gpu", "--disable-dev-shm-usage"]
    with sync_playwright() as playwright:
        browser = playwright.chromium.launch(executable_path=chromium, args=arguments)
        yield browser
        browser.close()


@pytest.fixture
def page(browser: Browser, club: Running) -> Iterator[Page]:
    """The host's board. Whatever its console says is an error."""
    context = browser.new_context(viewport={"width": WIDE[0], "height": WIDE[1]})
    name, _, value = club.host().sign_in()["Cookie"].partition("=")
    context.add_cookies([{"name": name, "value": value, "url": club.address}])
    context.set_default_timeout(PATIENCE_MS)
    errors: list[str] = []
    page = context.new_page()
    page.on(
        "console",
        lambda one: errors.append(one.text) if one.type in {"error", "warning"} else None,
    )
    page.goto(club.address)
    page.locator("body[data-live=yes]").wait_for()
    yield page
    context.close()
    assert [one for one in errors if not any(word in one for word in SAYS_NOTHING)] == []


def state(club: Running) -> dict[str, Any]:
    found: dict[str, Any] = club.get("/api/state")
    return found


def all_guard(club: Running) -> bool:
    told = club.get("/api/state") or {}
    nodes = told.get("nodes", {})
    return len(nodes) == len(ROOMS) and told["head"]["unheard"] == []


def ask(club: Running, path: str, body: dict[str, Any]) -> None:
    """Ask it of the board; a busy machine may need a few tries until it is heard."""
    until(lambda: club.post(path, body), f"{body} was never taken: {club.said}")


def hand(club: Running, contact: str, made: bool) -> None:
    ask(club, "/api/hands", {"contact": contact, "made": made})


def row(page: Page, spur: str) -> Locator:
    return page.locator(f"article[data-row={spur}]")


def box(page: Page, name: str) -> Locator:
    return page.locator(f"[data-box={name}]")


def logbook(folder: Path, room: str) -> Path:
    return folder / "all" / f"{room}.sqlite"


def asked(folder: Path, room: str, question: str) -> Any:  # noqa: ANN401 - whatever stands there
    with closing(sqlite3.connect(logbook(folder, room))) as connection:
        return connection.execute(question).fetchone()[0]


def courier_of(club: Running, room: str) -> int | None:
    for pid, line in children_of(club.process.pid):
        if any("courier_process" in word for word in line) and any(room in word for word in line):
            return pid
    return None


def test_a_session_is_opened_for_all_boxes_at_once(club: Running, page: Page, folder: Path) -> None:
    for room in ROOMS:
        expect(box(page, room)).to_have_attribute("data-state", "well")
    expect(page.locator("#engine-word")).to_have_text("Boxes: all 3 guard")
    ask(club, "/api/session", {"command": "open"})
    expect(page.locator("#session-clock-part")).to_be_visible()
    newest = "SELECT opened FROM session ORDER BY id DESC LIMIT 1"
    for room in ROOMS:
        until(lambda room=room: asked(folder, room, newest) == 1)
    until(lambda: all_guard(club))


def test_what_happens_at_a_box_is_on_the_board_and_the_hosts_word_reaches_the_box(
    club: Running, page: Page, folder: Path
) -> None:
    brickyard = row(page, "lower-room--brickyard")
    expect(brickyard).to_have_attribute("data-stage", "secured")
    expect(brickyard.locator(".lamp").first).to_have_attribute("data-lamp", "green")
    hand(club, "lower-room--brickyard-switch.normal", False)  # While its hasp is locked.
    expect(brickyard.locator(".lamp").first).to_have_attribute("data-lamp", "red")
    expect(page.locator("[data-violation]").first).to_contain_text("Lower room")
    hand(club, "lower-room--brickyard-switch.normal", True)
    lamp = brickyard.locator(".lamp").first

    def acknowledged() -> bool:
        """Press until all is taken: a machine that is busy may not be heard for a moment.

        And on one that is slow, points that lay between for five seconds are a second violation.
        """
        button = page.locator("[data-violation] [data-acknowledge]:visible").first
        if button.count() and button.is_enabled():
            button.click()
            page.wait_for_timeout(2_000)
        return lamp.get_attribute("data-lamp") == "green"

    until(acknowledged)
    ask(club, "/api/orders", {"command": "ask", "spur": "lower-room--brickyard"})
    page.locator("#desk [data-command=release]").click()
    released = "SELECT count(*) FROM entry WHERE what = 'foreman' AND line LIKE '%released%'"
    until(lambda: asked(folder, "lower-room", released) == 1)
    ask(club, "/api/orders", {"command": "hand-back", "spur": "lower-room--brickyard"})


def test_a_key_that_hangs_in_one_room_is_known_in_the_others(club: Running, page: Page) -> None:
    hand(club, "upper-room--lower-key.hook", False)
    key = page.locator("[data-key=upper-room--lower-key]")
    expect(key).to_have_attribute("data-state", "out")
    expect(key).to_contain_text("Brickyard")
    chip = row(page, "middle-room--oil-dock").locator("[data-protection=upper-room--lower-key]")
    expect(chip).to_have_attribute("data-state", "off")
    hand(club, "upper-room--lower-key.hook", True)
    expect(chip).to_have_count(0)


def test_a_crew_works_its_job_in_two_rooms(club: Running, browser: Browser) -> None:
    jobs = club.host()
    head = jobs.sign_in()
    context = browser.new_context(viewport={"width": PHONE[0], "height": PHONE[1]})
    name, _, value = head["Cookie"].partition("=")
    context.add_cookies([{"name": name, "value": value, "url": club.address}])
    listed = context.request.get(f"{club.address}/api/jobs").json()["jobs"]
    path = next(job["link"] for job in listed if job["name"] == "Down the valley")
    crew = context.new_page()
    crew.set_default_timeout(PATIENCE_MS)
    crew.goto(club.address + path)
    expect(crew.locator("body")).to_contain_text("Middle room · Lamp-oil dock")
    expect(crew.locator("body")).to_contain_text("Lower room · Brickyard")
    context.close()


def test_a_box_that_is_cut_off_is_dark_at_once_and_comes_back(club: Running, page: Page) -> None:
    oil_dock, brickyard = row(page, "middle-room--oil-dock"), row(page, "lower-room--brickyard")
    expect(oil_dock.locator(".lamp").first).to_have_attribute("data-lamp", "green")
    courier = courier_of(club, "middle-room")
    assert courier is not None
    os.kill(courier, signal.SIGSTOP)  # As good as a cable that is pulled.
    try:
        expect(oil_dock.locator(".lamp").first).to_have_attribute("data-lamp", "dark")
        expect(box(page, "middle-room")).to_have_attribute("data-state", "bad")
        expect(page.locator("#alarm")).to_contain_text("Middle room")
        expect(brickyard.locator(".lamp").first).to_have_attribute("data-lamp", "green")
    finally:
        os.kill(courier, signal.SIGCONT)
    expect(oil_dock.locator(".lamp").first).to_have_attribute("data-lamp", "green")
    os.kill(courier, signal.SIGKILL)
    expect(box(page, "middle-room")).to_have_attribute("data-state", "bad")
    expect(box(page, "middle-room")).to_have_attribute("data-state", "well")
    expect(page.locator("#alarm")).to_be_hidden()


@pytest.mark.parametrize("size", [PHONE, WIDE], ids=str)
@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_axe_finds_nothing(page: Page, scheme: str, size: tuple[int, int], tmp_path: Path) -> None:
    page.emulate_media(color_scheme=scheme)  # type: ignore[arg-type] # one of its two words
    page.set_viewport_size({"width": size[0], "height": size[1]})
    expect(box(page, "upper-room")).to_be_visible()
    shots = Path(os.environ.get("SPURLOCK_SHOTS") or tmp_path)
    shots.mkdir(parents=True, exist_ok=True)
    page.screenshot(path=shots / f"club-{size[0]}-{scheme}.png")
    options = {"resultTypes": ["violations"], "rules": {"target-size": {"enabled": True}}}
    found = axe.Axe().run(page, options=options).response["violations"]
    assert [(one["id"], one["nodes"][0]["html"][:200]) for one in found] == []


def test_every_page_is_served_for_all_boxes(club: Running, page: Page) -> None:
    for path in ("/jobs", "/session", "/debrief", "/briefing", "/bench"):
        answer = page.goto(club.address + path)
        assert answer is not None
        assert answer.status == 200
    checked = club.get("/api/restore-check")
    assert checked["live"]
    assert len(checked["looked_at"]) == 7
