"""Jobs, settings and sessions: a guest changes none of them, and a host only by what is sound."""

from __future__ import annotations

from typing import Any

import pytest
from service.processes import until

from attacks.target import Target, refused
from attacks.text import job, make

SOUND: dict[str, dict[str, Any]] = {
    "/api/jobs": job(),
    "/api/jobs/1/drop": {},
    "/api/jobs/order": {"ids": [1]},
    "/api/jobs/import": {"toml": "", "replace": True},
    "/api/settings": {"sound": True},
    "/api/session": {"command": "close"},
    "/api/bench/outputs": {"output": "brickyard-switch.red", "shows": "steady"},
}


@pytest.fixture(scope="module")
def number(target: Target) -> int:
    """A job that is there."""
    return make(target, job())[0]


@pytest.mark.parametrize("path", SOUND)
def test_a_guest_at_what_is_the_hosts(target: Target, number: int, path: str) -> None:
    with target.unchanged():
        refused(target.post(path, SOUND[path]), 401)


@pytest.mark.parametrize("path", SOUND)
def test_a_cookie_without_its_token(target: Target, number: int, path: str) -> None:
    with target.unchanged():
        refused(target.post(path, SOUND[path], {"Cookie": target.host()["Cookie"]}), 403)


@pytest.mark.parametrize("path", SOUND)
def test_a_form_of_another_pages(target: Target, number: int, path: str) -> None:
    head = target.host() | {"Origin": "http://evil.example", "Content-Type": "text/plain"}
    with target.unchanged():
        refused(target.send("POST", path, b"{}", head), 403)
        del head["Origin"]
        refused(target.send("POST", path, b"{}", head), 415)


@pytest.mark.parametrize("path", SOUND)
def test_a_body_beyond_any_bound(target: Target, number: int, path: str) -> None:
    with target.unchanged():
        body = b'{"name": "' + b"x" * 2**20 + b'"}'
        refused(target.post(path, body, target.host()), 413)


@pytest.mark.parametrize("path", SOUND)
@pytest.mark.parametrize("body", [b"[]", b"null", b'{"x": 1}', b"[" * 15_000, b"\xff", b'{"a":'])
def test_a_body_that_is_none(target: Target, number: int, path: str, body: bytes) -> None:
    with target.unchanged():
        refused(target.post(path, body, target.host()), 400)


def test_taking_the_jobs_out_as_a_guest(target: Target, number: int) -> None:
    with target.unchanged():
        refused(target.send("GET", "/api/jobs/export.toml"), 401)
        refused(target.send("GET", f"/jobs/{number}/sheet"), 401)


@pytest.mark.parametrize(
    "change",
    [
        {"name": ""},
        {"name": "x" * 121},
        {"name": ["x"]},
        {"cars": -1},
        {"cars": 501},
        {"cars": 10**30},
        {"cars": 1.5},
        {"rear": "rocket"},
        {"keys": ["no-such-key"]},
        {"keys": ["k"] * 101},
        {"keys": "upper-key"},
        {"stops": [{"spur": "nowhere"}]},
        {"stops": [{"spur": "' OR 1=1 --"}]},
        {"stops": [{"spur": "brickyard", "note": "x" * 2_001}]},
        {"stops": [{"spur": "brickyard"}] * 41},
        {"stops": [{"spur": "brickyard", "pull": [{"car": "c"}] * 61}]},
        {"stops": [{"spur": "brickyard", "pull": [{"car": "c", "to": "x"}]}]},
        {"id": 99_999},
        {"id": -1},
        {"id": 2**63},
        {"dropped": True},
        {"layout": "another"},
    ],
    ids=str,
)
def test_a_job_that_can_not_be(target: Target, number: int, change: dict[str, Any]) -> None:
    with target.unchanged():
        refused(target.post("/api/jobs", job() | change, target.host()), 400, 404, 409, 413)


@pytest.mark.parametrize("given", ["0", "99999", "99999999999999999999", "-1", "1.0", "x", "%00"])
def test_dropping_a_job_that_is_none(target: Target, number: int, given: str) -> None:
    with target.unchanged():
        refused(target.post(f"/api/jobs/{given}/drop", {}, target.host()), 404)


@pytest.mark.parametrize(
    "ids", [[], [1, 1], [99_999], [-1], [2**70], [None], "1", list(range(999))]
)
def test_an_order_of_jobs_that_is_none(target: Target, number: int, ids: object) -> None:
    with target.unchanged():
        refused(target.post("/api/jobs/order", {"ids": ids}, target.host()), 400, 409)


@pytest.mark.parametrize(
    "toml",
    [
        "[[job]]\nname = 'a'\n[[job.stop]]\nspur = 'nowhere'",
        "[[job]]\nname = '" + "x" * 5_000 + "'",
        "a" + ".a" * 8_000 + " = 1",
        "a = " + "[" * 20_000,
        "a = " + "{a=" * 5_000,
        "a = 1\n" * 500,
        "job = 5",
        "[[job]]\nname = 'a\\u0000b'",
        "[[job]]\nname = 'a'\ncars = 9999999999999999999999999",
        "[[job]]\nname = 'a'\nid = 1",
        "\x00",
        '[[job]]\nname = "a\u202eb"',
        "[[job]]\nname = 1979-05-27",
        "[[job]]\n" * 3_000,
    ],
    ids=lambda text: repr(text[:24]),
)
def test_a_file_of_jobs_that_is_none(target: Target, number: int, toml: str) -> None:
    with target.unchanged():
        body = {"toml": toml, "replace": True}
        answer = refused(target.post("/api/jobs/import", body, target.host()), 400, 409)
        assert len(answer.text) < 100_000


@pytest.mark.parametrize(
    "body",
    [
        {"address": "javascript:alert(1)"},
        {"address": "http://evil.example"},
        {"address": "http://evil.example@127.0.0.1"},
        {"address": "http://127.0.0.1/../evil"},
        {"address": "http://127.0.0.1:99999"},
        {"address": "127.0.0.1\r\nSet-Cookie: a=b"},
        {"address": "data:text/html,x"},
        {"address": "//evil.example"},
        {"pin": "1234"},
        {"link-secret": "00"},
        {"crew-steps": ["launch"]},
        {"crew-steps": "horn"},
        {"waiting-ceiling": 101},
        {"waiting-ceiling": -1},
        {"waiting-ceiling": 10**400},
        {"sound": "yes"},
        {"layout-clock-start": "25:99"},
        {"layout-clock-start": "<b>8:00</b>"},
        {"anything": "else"},
    ],
    ids=lambda body: str(body)[:40],
)
def test_a_setting_that_can_not_be(target: Target, body: dict[str, Any]) -> None:
    with target.unchanged():
        refused(target.post("/api/settings", body, target.host()), 400, 409)


@pytest.mark.parametrize(
    "command", ["", "OPEN", "drop", "open; close", None, 1, True, ["close"], {"close": 1}], ids=str
)
def test_a_session_asked_for_what_it_is_not(target: Target, command: object) -> None:
    with target.unchanged():
        refused(target.post("/api/session", {"command": command}, target.host()), 400)


def test_opening_a_session_that_is_open(target: Target) -> None:
    """The screen leaves it for the engine, which refuses; no session ends or begins for it."""
    with target.unchanged("request"):
        answer = target.post("/api/session", {"command": "open"}, target.host())
        assert answer.status in {202, 409}
        if answer.status == 202:
            path = f"/api/requests/{answer.json['request']}"
            until(lambda: target.send("GET", path).json["accepted"] is not None)
            assert target.send("GET", path).json["accepted"] is False


@pytest.mark.parametrize(
    "path",
    [
        "/debrief/1%20OR%201=1",
        "/debrief/-1",
        "/debrief/99999999999999999999999",
        "/debrief/1/../2",
        "/debrief/1/entries.csv%00.html",
        "/debrief/1/..%2f..%2flogbook.sqlite",
        "/debrief/1/nothing.csv",
        "/api/debrief/0",
        "/api/debrief/1;DROP%20TABLE%20session",
        "/debrief/999/entries.csv",
        "/debrief/999/steps.csv",
        "/debrief/999/violations.csv",
    ],
)
def test_a_debrief_of_what_was_not(target: Target, path: str) -> None:
    with target.unchanged():
        refused(target.send("GET", path), 404)


def test_more_jobs_than_there_may_be(target: Target) -> None:
    """Two hundred, however they come; what would be one more changes nothing."""
    text = "".join(
        f'[[job]]\nname = "J{n}"\n[[job.stop]]\nspur = "brickyard"\n' for n in range(201)
    )
    with target.unchanged():
        body = {"toml": text, "replace": True}
        refused(target.post("/api/jobs/import", body, target.host()), 409)
