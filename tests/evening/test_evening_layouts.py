"""Layouts of one spur and of eight, names of eighty letters, and pages with nothing on them yet."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest
from playwright.sync_api import Browser, Page, expect
from service.processes import until
from service.signing_in import PIN

from evening.shots import Shots
from evening.valley import PHONE, WALL, Valley, link_on, sign_in, valley_of

LONG = "Bergwerksverwaltungsgesellschaftszentralmaterialausgabestellenvorratskammergleis"
"""Eighty letters without a place to break."""

PAGES = (
    "/",
    "/jobs",
    "/forecast",
    "/session",
    "/debrief",
    "/pace",
    "/briefing",
    "/bench",
    "/proof",
)


def spur(number: int, name: str) -> str:
    """A spur with a padlock and a flag, as TOML; every wire is the planner's to find."""
    detector = '{ pin = "auto" }'
    return f"""
[[switch]]
id = "switch-{number}"
name = "{name} switch"
lock = "padlock"
key = "key-{number}"
contacts = {{ hasp = "auto", normal = "auto", reverse = "auto", detector = {detector} }}
lamps = {{ green = "auto", red = "auto", white = "auto" }}

[[spur]]
id = "spur-{number}"
name = "{name}"
switch = "switch-{number}"
foreman = "host"
contacts = {{ detector = {detector} }}

[[flag]]
id = "flag-{number}"
name = "{name} flag"
spur = "spur-{number}"
contacts = {{ rack = "auto" }}

[[key]]
id = "key-{number}"
name = "{name} key"
contacts = {{ hook = "auto" }}
"""


def layout(name: str, *spurs: str) -> str:
    head = f'[layout]\nname = "{name}"\nscale = "N"\n'
    return head + "".join(spur(number, one) for number, one in enumerate(spurs, 1))


def job(name: str, spurs: int) -> dict[str, Any]:
    """A job that is called this, and whose crew, cars, places and notes are too."""
    car = {"car": name, "place": name}
    stops = [
        {"spur": f"spur-{number}", "pull": [car], "spot": [car, car], "note": name}
        for number in range(1, spurs + 1)
    ]
    keys = [f"key-{number}" for number in range(1, spurs + 1)]
    return {
        "name": name, "crew": name, "cars": 12, "rear": "caboose", "keys": keys, "stops": stops,
    }  # fmt: skip


def host_of(valley: Valley) -> Page:
    host = valley.somebody("/jobs", WALL)
    host.locator("#host").click()
    sign_in(host, PIN)
    return host


def look_at_all(valley: Valley, host: Page, shots: Shots, name: str) -> None:
    for path in PAGES:
        host.goto(valley.spurlock.address + path)
        if host.locator("#pulse").is_visible():
            expect(host.locator("body")).to_have_attribute("data-live", "yes")
        if path == "/session":
            expect(host.locator("#restore-says")).not_to_have_attribute("data-clear", "unknown")
        shots.take(host, f"{name}-{path.strip('/') or 'board'}")


def at_work(valley: Valley, host: Page, shots: Shots, name: str) -> None:
    """The session opened, a crew that has asked, and a rule that is broken; all of it seen."""
    host.goto(valley.spurlock.address + "/session")
    host.locator("#open").click()
    expect(host.locator("#state")).to_have_attribute("data-opened", "yes")
    host.goto(valley.spurlock.address + "/jobs")
    host.locator("[data-job] a").first.click()
    link = link_on(host)
    shots.take(host, f"{name}-sheet")
    shots.take_print(host, f"{name}-sheet")
    phone = valley.somebody(link, PHONE)
    phone.locator("#main-action button").click()
    valley.hands(("key-1.hook", False))
    valley.spurlock.post("/api/orders", {"command": "ask", "spur": "spur-1"})
    valley.hands(("switch-1.normal", False))  # Under a locked hasp.
    valley.spurlock.hand("flag-1.rack", None)
    until(lambda: valley.spurlock.get("/api/state")["open_count"])
    expect(phone.locator("#broken-part")).to_be_visible()
    phone.locator("#broken-part summary").click()
    shots.take(phone, f"{name}-crew")
    look_at_all(valley, host, shots, name)


@pytest.mark.timeout(240)
def test_a_layout_of_one_spur_and_nothing_on_any_page_yet(
    tmp_path: Path, browser: Browser, shots: Shots
) -> None:
    with valley_of(layout("Tarn End", "Quarry"), tmp_path, browser) as valley:
        host = host_of(valley)
        expect(host.locator("#no-jobs")).to_contain_text("Press New job")
        look_at_all(valley, host, shots, "one")
        host.goto(valley.spurlock.address + "/debrief")
        host.get_by_role("link", name="Open a session").click()
        host.locator("#open").click()
        expect(host.locator("#state")).to_have_attribute("data-opened", "yes")
        host.goto(valley.spurlock.address + "/debrief")
        expect(host.locator(".empty").first).to_be_visible()
        shots.take(host, "one-debrief-empty")


@pytest.mark.timeout(240)
def test_a_layout_of_eight_spurs_with_names_of_eighty_letters(
    tmp_path: Path, browser: Browser, shots: Shots
) -> None:
    with valley_of(layout(LONG, *[LONG] * 8), tmp_path, browser) as valley:
        host = host_of(valley)
        assert valley.spurlock.post("/api/jobs", job(LONG, 8)) is not None
        at_work(valley, host, shots, "long")


@pytest.mark.timeout(240)
def test_a_layout_of_eight_spurs(tmp_path: Path, browser: Browser, shots: Shots) -> None:
    names = ["Mill", "Kiln", "Dairy", "Coal yard", "Grain elevator", "Cannery", "Quay", "Depot"]
    with valley_of(layout("Eight Acres", *names), tmp_path, browser) as valley:
        host = host_of(valley)
        assert valley.spurlock.post("/api/jobs", job("All round the valley", 8)) is not None
        at_work(valley, host, shots, "eight")
