"""Script in every field that takes words: kept and shown as text, and run by nobody."""

from __future__ import annotations

import csv
import io
import os
import shutil
from collections.abc import Iterator
from pathlib import Path

import pytest
from playwright.sync_api import (
    Browser,
    BrowserContext,
    ConsoleMessage,
    Dialog,
    Page,
    sync_playwright,
)
from service.processes import until

from attacks.target import Target, refused
from attacks.text import SCRIPTS, SHORT, job, make

CHROMIUM = Path(shutil.which("chromium") or "/usr/bin/chromium")
needs_chromium = pytest.mark.skipif(
    not CHROMIUM.exists() and "CI" not in os.environ,
    reason="Chromium is not installed (apt install chromium)",
)
ALL = " ".join(SCRIPTS)
NAME = SHORT[:80]
WATCH = """
window.ran = [];
for (const name of ["alert", "confirm", "prompt"]) window[name] = () => window.ran.push(name);
document.addEventListener("securitypolicyviolation", (event) => window.ran.push(event.blockedURI));
"""
FORMULAS = ("=1+1", "+1", "-1+1", "@SUM(1)", "\t=1", '=HYPERLINK("http://evil.example")')


@pytest.fixture(scope="module")
def written(target: Target) -> tuple[int, str]:
    """A job and an acknowledged violation whose every word is script; the job and its link."""
    target.demo.hand("foundry-switch.normal", False)
    until(lambda: target.send("GET", "/api/state").json["violations"])
    note = {"command": "acknowledge", "violation": 1, "note": ALL}
    assert target.post("/api/orders", note, target.host()).status == 202
    until(lambda: target.query("SELECT 1 FROM violation WHERE note IS NOT NULL"))
    number, link = make(target, job(SHORT, note=ALL))
    make(target, job(SCRIPTS[2], spur="foundry"))
    until(lambda: target.send("GET", f"/api/crew/{link}").status == 200)
    assert target.post("/api/forecast", {"minutes": 90}, target.host()).status == 201
    measured = {"way": "tilt", "rise_mm": 6, "run_mm": 1000}
    for path, body in (
        ("/api/pace/locomotives", {"name": NAME}),
        ("/api/pace/rolls", {"car": NAME, "measured": measured}),
    ):
        assert target.post(path, body, target.host()).status == 201
    return number, link


@pytest.fixture(scope="module")
def browser() -> Iterator[Browser]:
    with sync_playwright() as playwright:
        browser = playwright.chromium.launch(executable_path=CHROMIUM, args=["--no-sandbox"])
        yield browser
        browser.close()


@pytest.fixture
def context(browser: Browser, target: Target) -> Iterator[BrowserContext]:
    """The host's browser, in which whatever runs is noted."""
    context = browser.new_context()
    name, _, value = target.host()["Cookie"].partition("=")
    context.add_cookies([{"name": name, "value": value, "url": target.demo.address}])
    context.add_init_script(WATCH)
    yield context
    context.close()


def looked_at(context: BrowserContext, target: Target, path: str) -> Page:
    """A page that has been open for a while, and on which nothing has run or tried to."""
    page = context.new_page()
    told: list[str] = []

    def asked(dialog: Dialog) -> None:
        told.append(dialog.message)
        dialog.dismiss()

    def said(message: ConsoleMessage) -> None:
        if message.type == "error":
            told.append(message.text)

    page.on("dialog", asked)
    page.on("console", said)
    page.goto(target.demo.address + path)
    page.wait_for_timeout(1_500)
    assert page.evaluate("window.ran") == []
    assert told == []
    outside = (
        "[...document.querySelectorAll('iframe, object, embed, img[src=x], script:not([src])')]"
    )
    assert page.evaluate(f"{outside}.length") == 0
    return page


@needs_chromium
@pytest.mark.parametrize(
    "path", ["/", "/bench", "/jobs", "/forecast", "/session", "/briefing", "/debrief", "/pace"]
)
def test_script_in_every_field_seen_on_the_hosts_pages(
    context: BrowserContext, target: Target, written: tuple[int, str], path: str
) -> None:
    page = looked_at(context, target, path)
    if path == "/jobs":
        shown = page.locator("body").inner_text() + " ".join(
            page.eval_on_selector_all("input, textarea", "all => all.map((one) => one.value)")
        )
        assert SHORT in shown
    if path == "/pace":
        assert page.locator("#loco-name").input_value() == NAME
        assert NAME in page.locator("#roll-list").inner_text()


@needs_chromium
def test_script_in_every_field_seen_on_a_jobs_sheet(
    context: BrowserContext, target: Target, written: tuple[int, str]
) -> None:
    page = looked_at(context, target, f"/jobs/{written[0]}/sheet")
    assert SHORT in page.locator("body").inner_text()


@needs_chromium
def test_script_in_every_field_seen_on_the_crews_page(
    context: BrowserContext, target: Target, written: tuple[int, str]
) -> None:
    page = looked_at(context, target, f"/crew/{written[1]}")
    assert SHORT in page.locator("#job-name").inner_text()


def test_what_was_written_is_kept_as_it_was(target: Target, written: tuple[int, str]) -> None:
    [kept] = [
        one
        for one in target.send("GET", "/api/jobs", head=target.host()).json["jobs"]
        if one["id"] == written[0]
    ]
    assert kept["name"] == kept["crew"] == kept["stops"][0]["spot"][0]["place"] == SHORT
    assert kept["stops"][0]["note"] == ALL
    assert target.query("SELECT note FROM violation WHERE number = 1") == [(ALL,)]


def test_answers_with_script_in_them_are_never_taken_for_pages(
    target: Target, written: tuple[int, str]
) -> None:
    for path in ("/api/jobs", "/api/jobs/export.toml", "/api/state", f"/api/crew/{written[1]}"):
        answer = target.send("GET", path, head=target.host())
        assert answer.status == 200
        assert "html" not in answer.head["content-type"]
        assert answer.head["x-content-type-options"] == "nosniff"


@pytest.mark.parametrize("script", SCRIPTS)
def test_script_in_the_address(target: Target, script: str) -> None:
    """Where an error names what was asked for, it does so as text."""
    quoted = "".join(f"%{byte:02x}" for byte in script.encode())
    with target.unchanged():
        for path in (f"/{quoted}", f"/?q={quoted}", f"/crew/{quoted}", f"/debrief/{quoted}"):
            answer = target.send("GET", path)
            assert answer.status < 500
            if "html" in answer.head["content-type"]:
                assert script not in answer.text


@pytest.mark.parametrize("script", SCRIPTS)
def test_script_as_the_name_of_a_spur_or_a_contact(target: Target, script: str) -> None:
    with target.unchanged():
        for path, body in (
            ("/api/orders", {"command": "ask", "spur": script}),
            ("/api/hands", {"contact": script, "made": False}),
            ("/api/bench/outputs", {"output": script, "shows": "off"}),
        ):
            answer = refused(target.post(path, body, target.host()), 404)
            assert answer.head["content-type"] == "application/json"


@pytest.mark.parametrize("text", ["a\x00b", "a\x1bb", "a\u202eb", "a\u2028b", "\ud800", "a\x07"])
def test_a_job_with_what_no_text_should_hold(target: Target, text: str) -> None:
    with target.unchanged():
        refused(target.post("/api/jobs", job(text), target.host()), 400)


@pytest.mark.parametrize("formula", FORMULAS)
def test_a_note_that_a_spreadsheet_would_take_for_a_formula(target: Target, formula: str) -> None:
    """Notes are what a caller can write into the tables; each begins as text there."""
    number = another_violation(target)
    body = {"command": "acknowledge", "violation": number, "note": formula}
    assert target.post("/api/orders", body, target.host()).status == 202
    kept = "SELECT note FROM violation WHERE number = ? AND note IS NOT NULL"
    until(lambda: target.query(kept, number))
    told = ""
    for table in ("violations", "entries", "steps"):
        answer = target.send("GET", f"/debrief/1/{table}.csv")
        assert answer.status == 200
        told += answer.text
        for row in csv.reader(io.StringIO(answer.text)):
            for cell in row:
                assert not cell.startswith(("=", "+", "@", "\t", "\r", "\n")), cell
                assert not cell.startswith("-") or _is_number(cell), cell
    assert f"'{formula}" in told or f"'{formula}".replace('"', '""') in told


def another_violation(target: Target) -> int:
    """Locked points go back and forth until a violation waits that the screen knows; its number."""

    def waits() -> int:
        shown = target.send("GET", "/api/state").json
        open_ones = "SELECT number FROM violation WHERE acknowledged_t_us IS NULL"
        kept = {row[0] for row in target.query(open_ones)}  # The page may be a moment behind.
        found = [int(one) for one in shown["violations"] if int(one) in kept]
        if not found:
            made = shown["contacts"]["creamery-switch.normal"]["raw"]
            target.demo.hand("creamery-switch.normal", not made)
        return max(found, default=0)

    return until(waits)


def _is_number(text: str) -> bool:
    try:
        float(text)
    except ValueError:
        return False
    return True
