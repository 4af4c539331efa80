"""The commissioning page: who may answer, what is taken from others, and script in every field."""

from __future__ import annotations

import json
from collections.abc import Iterator
from typing import Any

import pytest
from playwright.sync_api import BrowserContext
from service.processes import until

from attacks.target import JSON_TYPE, Target, refused
from attacks.test_attacks_text import browser, context, looked_at, needs_chromium
from attacks.text import SCRIPTS
from firmware_py.logbook.commissioning import Signed, begin, sign
from firmware_py.logbook.opening import open_engine
from firmware_py.logbook.sitting import Showing

__all__ = ["browser", "context"]

PATH = "/api/commission/asked"
ASKED = {"sitting": 1, "number": 1, "say": "done"}
ALL = "\n".join(SCRIPTS)


@pytest.fixture(scope="module")
def sat(target: Target) -> Iterator[int]:
    """A record, and a sitting that lives, of a builder whose every word is script; its number.

    Whoever can write the logbook can do so; no page is to run it even then.
    """
    engine = open_engine(str(target.logbook))
    number = begin(engine, ALL, simulated=True, wall_us=1)
    found = [{"kind": ALL, "names": [], "text": ALL, "do": ALL}]
    sign(engine, number, "{}", json.dumps(found), Signed(*[ALL] * 6, 1, 2))
    engine.dispose()
    showing = Showing(str(target.logbook), number, json.dumps(_about()), json.dumps(_shown()))
    yield number
    showing.close()


def _about() -> dict[str, Any]:
    stand = {"name": ALL, "contacts": [ALL], "outputs": [ALL]}
    return {"layout": ALL, "simulated": True, "again": ALL, "stands": [stand]}


def _shown() -> dict[str, Any]:
    finding = {"kind": "dead", "names": [ALL], "text": ALL, "do": ALL}
    usual = dict.fromkeys(("by_whom", "place", "equipment", "results", "repairs"), ALL)
    asked = {"number": 1, "step": "finished", "text": ALL, "about": ALL, "remark": ALL}
    return {
        "state": "asking",
        "asked": asked,
        "stand": ALL,
        "waits": True,
        "left_us": None,
        "levels": {ALL: True},
        "over": {ALL: 1},
        "findings": [finding],
        "usual": {**usual, "condition_left": ALL},
        "record": None,
    }


@pytest.mark.parametrize("head", [{}, {"Cookie": "spurlock-host=guess"}], ids=["guest", "forged"])
def test_answering_without_the_pin(target: Target, head: dict[str, str]) -> None:
    with target.unchanged():
        refused(target.post(PATH, ASKED, head), 401)


def test_answering_with_the_cookie_alone(target: Target) -> None:
    """As another site's page would, if the browser let it."""
    with target.unchanged():
        refused(target.post(PATH, ASKED, {"Cookie": target.host()["Cookie"]}), 403)


@pytest.mark.parametrize(
    ("name", "value", "status"),
    [
        ("Origin", "http://evil.example", 403),
        ("Origin", "null", 403),
        ("Sec-Fetch-Site", "cross-site", 403),
        ("Content-Type", "text/plain", 415),
        ("Content-Type", "application/x-www-form-urlencoded", 415),
    ],
)
def test_answering_from_another_page(target: Target, name: str, value: str, status: int) -> None:
    with target.unchanged():
        head = {"Content-Type": JSON_TYPE, **target.host(), name: value}
        refused(target.send("POST", PATH, json.dumps(ASKED).encode(), head), status)


def test_answering_where_nobody_asks(target: Target) -> None:
    """No sitting lives here: nothing is left for one that may come later."""
    with target.unchanged():
        refused(target.post(PATH, ASKED, target.host()), 409)


@pytest.mark.parametrize(
    "more",
    [
        {"sitting": -1},
        {"sitting": 2**63},
        {"number": "1"},
        {"number": True},
        {"say": "done; DROP TABLE request"},
        {"seen": "red"},
        {"seen": ["x" * 301]},
        {"seen": ["x"] * 1001},
        {"stand": {"$gt": ""}},
        {"signing": {"by_whom": ""}},
        {"signing": {"by_whom": "N. Tallow", "signed_wall_us": 1}},
        {"signing": {"by_whom": "x" * 301}},
        {"evidence": "{}"},
    ],
    ids=str,
)
def test_an_answer_of_the_wrong_shape(target: Target, more: dict[str, object]) -> None:
    with target.unchanged():
        refused(target.post(PATH, ASKED | more, target.host()), 400)


@pytest.mark.parametrize("size", [70_000, 2**20])
def test_a_huge_answer(target: Target, size: int) -> None:
    with target.unchanged():
        refused(target.post(PATH, b'{"stand": "' + b"x" * size + b'"}', target.host()), 413)


@pytest.mark.parametrize(
    "path",
    [
        "/commission/records/0",
        "/commission/records/999999999999999999999999",
        "/commission/records/-1",
        "/commission/records/1%27",
        "/commission/records/../records",
        "/commission/",
    ],
)
def test_a_record_that_is_none(target: Target, path: str) -> None:
    with target.unchanged():
        refused(target.send("GET", path), 404)


@needs_chromium
def test_script_in_a_record_and_in_a_sitting(
    context: BrowserContext, target: Target, sat: int
) -> None:
    page = looked_at(context, target, f"/commission/records/{sat}")
    assert all(one in page.locator("article").inner_text() for one in SCRIPTS)
    page.close()
    shown = json.dumps(_shown() | {"state": "asking"})
    engine = open_engine(str(target.logbook))
    page = looked_at(context, target, "/commission")
    beat = 1
    while page.locator("body[data-word=live] #findings .finding").count() == 0:
        beat += 1
        with engine.begin() as connection:
            connection.exec_driver_sql("UPDATE sitting SET beat = ?, shown = ?", (beat, shown))
        page.wait_for_timeout(200)
        assert beat < 300, page.locator("body").inner_text()
    engine.dispose()
    # At once, and all in one look: its heart beats no more, and soon the page says so.
    places = ["#says", "#findings", "#records", "#stands"]
    told = page.evaluate("all => all.map((one) => document.querySelector(one).innerText)", places)
    assert [place for place, text in zip(places, told, strict=True) if SCRIPTS[0] not in text] == []
    assert page.locator("#repairs").input_value() == ALL
    page.wait_for_timeout(1_000)
    assert page.evaluate("window.ran") == []
    page.close()
    until(lambda: target.send("GET", "/api/commission").json["word"] == "silent")
