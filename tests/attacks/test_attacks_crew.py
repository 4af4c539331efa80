"""A crew's link: another job's, an old one, a made-up one, and what it is not for."""

from __future__ import annotations

import random
import string
from collections.abc import Iterator
from typing import Any, NamedTuple

import pytest
from service.processes import running, until

from attacks.target import ATTACKER, JSON_TYPE, Target, refused
from attacks.text import job, make

HERE = {"stop": 0, "step": "here"}
PATHS = ("orders", "ticks", "ticks/back")
SOUND: dict[str, dict[str, Any]] = {"orders": {"command": "ask"}, "ticks": HERE, "ticks/back": HERE}


class Two(NamedTuple):
    """Two crews' links, and the numbers of their jobs. One is at the brickyard."""

    brickyard: str
    foundry: str
    numbers: tuple[int, int]


@pytest.fixture(scope="module")
def two(target: Target) -> Two:
    """Two jobs that are under way."""
    first, brickyard = make(target, job("Brick local"))
    second, foundry = make(target, job("Foundry turn", spur="foundry"))
    until(lambda: target.send("GET", f"/api/crew/{brickyard}").status == 200)
    until(lambda: target.send("GET", f"/api/crew/{foundry}").status == 200)
    return Two(brickyard, foundry, (first, second))


def every_door(target: Target, link: str, *statuses: int) -> None:
    """Everything there is under a link refuses it, the host's own sign-in or not."""
    for head in ({}, target.host()):
        for path in PATHS:
            refused(target.post(f"/api/crew/{link}/{path}", SOUND[path], head), *statuses)
        refused(target.send("GET", f"/api/crew/{link}", head=head), *statuses)
        refused(target.send("GET", f"/api/crew/{link}/events", head=head), *statuses)
        refused(target.send("GET", f"/crew/{link}", head=head), *statuses)


def made_up() -> Iterator[str]:
    chance = random.Random(4)
    for _ in range(3):
        yield "".join(chance.choices(string.ascii_lowercase + "234567", k=20))


@pytest.mark.parametrize("link", [*made_up(), "a" * 20, "0" * 20, "-" * 20])
def test_a_made_up_link(target: Target, two: Two, link: str) -> None:
    with target.unchanged():
        every_door(target, link, 404)


def test_a_link_with_one_letter_changed_left_out_or_added(target: Target, two: Two) -> None:
    link = two.brickyard
    other = "b" if link[-1] == "a" else "a"
    with target.unchanged():
        for wrong in (link[:-1] + other, other + link[1:], link[:-1], link + "a", link * 2):
            every_door(target, wrong, 404)


def test_a_link_in_other_letters(target: Target, two: Two) -> None:
    """Upper case, wide letters and look-alikes are not the link's own."""
    wide = "".join(
        f"%{byte:02x}" for one in two.brickyard for byte in chr(ord(one) + 0xFEE0).encode()
    )
    with target.unchanged():
        for wrong in (two.brickyard.upper(), wide, f"{two.brickyard}%00", f"%20{two.brickyard}"):
            every_door(target, wrong, 404)


@pytest.mark.parametrize(
    "link", ["1", "job:1", "%00" * 20, "..", "%2e%2e%2fhands", "' OR '1'='1", "%", "a" * 5_000]
)
def test_a_link_that_is_none(target: Target, two: Two, link: str) -> None:
    quoted = link.replace(" ", "%20").replace("'", "%27")
    with target.unchanged():
        every_door(target, quoted, 404, 405, 414)


@pytest.mark.parametrize("command", ["release", "hold", "acknowledge", "open", "close", "", "drop"])
def test_a_crew_giving_the_hosts_commands(target: Target, two: Two, command: str) -> None:
    with target.unchanged():
        for body in ({"command": command}, {"command": command, "spur": "brickyard"}):
            answer = target.post(f"/api/crew/{two.brickyard}/orders", body, whence=ATTACKER)
            refused(answer, 400, 403)


def test_a_crew_acknowledging_a_violation(target: Target, two: Two) -> None:
    with target.unchanged():
        for body in (
            {"command": "acknowledge", "violation": 1},
            {"command": "ask", "violation": 1},
            {"command": "ask", "note": "x"},
        ):
            refused(target.post(f"/api/crew/{two.brickyard}/orders", body), 400)


@pytest.mark.parametrize("command", ["ask", "hand-back", "work-done", "start-brake-test"])
def test_a_crew_naming_another_jobs_spur(target: Target, two: Two, command: str) -> None:
    more = {"cars": 3} if command == "start-brake-test" else {}
    with target.unchanged():
        for spur in ("foundry", "creamery", "nowhere", "foundry-switch"):
            body = {"command": command, "spur": spur, **more}
            refused(target.post(f"/api/crew/{two.brickyard}/orders", body), 403)


def test_another_jobs_link_works_at_its_own_spur_only(target: Target, two: Two) -> None:
    with target.unchanged():
        body = {"command": "ask", "spur": "brickyard"}
        refused(target.post(f"/api/crew/{two.foundry}/orders", body), 403)


@pytest.mark.parametrize("path", ["/api/orders", "/api/hands", "/api/jobs", "/api/session"])
def test_a_link_at_the_hosts_own_doors(target: Target, two: Two, path: str) -> None:
    """As a cookie, a token, or in the address: it opens none of them."""
    link = two.brickyard
    bodies: dict[str, Any] = {
        "/api/orders": {"command": "release", "spur": "brickyard"},
        "/api/hands": {"contact": "brickyard-switch.hasp", "made": False},
        "/api/jobs": job(),
        "/api/session": {"command": "close"},
    }
    with target.unchanged():
        head = {"Cookie": f"spurlock-host={link}", "X-Spurlock-Token": link}
        refused(target.post(path, bodies[path], head), 401)
        refused(target.post(f"{path}?link={link}", bodies[path]), 401)
        refused(target.post("/api/host", {"pin": link}, whence="127.0.0.77"), 403)


@pytest.mark.parametrize("path", PATHS)
def test_looking_at_what_a_crew_would_press(target: Target, two: Two, path: str) -> None:
    with target.unchanged():
        for method in ("GET", "HEAD", "PUT", "DELETE", "TRACE"):
            refused(target.send(method, f"/api/crew/{two.brickyard}/{path}"), 400, 404, 405, 501)


@pytest.mark.parametrize("path", PATHS)
def test_another_page_pressing_a_crews_buttons(target: Target, two: Two, path: str) -> None:
    where = f"/api/crew/{two.brickyard}/{path}"
    with target.unchanged():
        refused(target.post(where, SOUND[path], {"Origin": "http://evil.example"}), 403)
        refused(target.post(where, SOUND[path], {"Sec-Fetch-Site": "cross-site"}), 403)
        form = {"Content-Type": "text/plain"}
        refused(target.send("POST", where, b'{"command": "ask"}', form), 415)


@pytest.mark.parametrize("path", PATHS)
@pytest.mark.parametrize(
    "body",
    [
        b"",
        b"[]",
        b"null",
        b"[" * 15_000,
        b'{"command": "ask", "admin": 1}',
        b'{"stop": "0"}',
        b"\xff",
    ],
)
def test_a_crews_body_that_is_none(target: Target, two: Two, path: str, body: bytes) -> None:
    with target.unchanged():
        refused(target.post(f"/api/crew/{two.brickyard}/{path}", body), 400)


@pytest.mark.parametrize("path", PATHS)
def test_a_crews_body_beyond_any_bound(target: Target, two: Two, path: str) -> None:
    with target.unchanged():
        body = b'{"command": "' + b"x" * 2**20 + b'"}'
        refused(target.post(f"/api/crew/{two.brickyard}/{path}", body), 413)


@pytest.mark.parametrize(
    "tick",
    [
        {"stop": -1, "step": "here"},
        {"stop": 1, "step": "here"},
        {"stop": 40, "step": "horn"},
        {"stop": 2**31, "step": "here"},
        {"stop": 2**70, "step": "here"},
        {"stop": 0.5, "step": "here"},
        {"stop": 0, "step": "launch"},
        {"stop": 0, "step": ""},
        {"stop": 0, "step": None},
        {"stop": 0, "step": "here", "job": 1},
        {"stop": 0},
        {"step": "here"},
    ],
    ids=str,
)
def test_a_tick_that_can_not_be(target: Target, two: Two, tick: dict[str, Any]) -> None:
    with target.unchanged():
        refused(target.post(f"/api/crew/{two.brickyard}/ticks", tick), 400, 403)


@pytest.mark.parametrize("cars", [0, -1, 501, 2**31, 2**70, 1.5, "3", None, [3]], ids=str)
def test_a_brake_test_of_a_train_that_can_not_be(target: Target, two: Two, cars: object) -> None:
    body = {"command": "start-brake-test", "cars": cars}
    with target.unchanged():
        refused(target.post(f"/api/crew/{two.brickyard}/orders", body), 400)


def test_two_crews_do_not_see_each_others_links_and_controls(target: Target, two: Two) -> None:
    for mine, other in ((two.brickyard, two.foundry), (two.foundry, two.brickyard)):
        told = target.send("GET", f"/api/crew/{mine}").text
        told += target.send("GET", f"/crew/{mine}").text
        told += target.raw(
            f"GET /api/crew/{mine}/events HTTP/1.1\r\nHost: localhost\r\n\r\n".encode(), quiet_s=0.5
        ).decode()
        assert other not in told


def test_a_link_is_not_sent_on_to_other_pages(target: Target, two: Two) -> None:
    answer = target.send("GET", f"/crew/{two.brickyard}")
    assert answer.head["referrer-policy"] == "no-referrer"
    assert answer.head["cache-control"] == "no-store"


def test_a_job_that_was_taken_away(target: Target, two: Two) -> None:
    number, link = make(target, job("Short lived"))
    until(lambda: target.send("GET", f"/api/crew/{link}").status == 200)
    assert target.post(f"/api/jobs/{number}/drop", {}, target.host()).status == 200
    until(lambda: target.send("GET", f"/api/crew/{link}").status == 410)
    with target.unchanged():
        every_door(target, link, 410)


def test_links_tell_nothing_of_one_another(target: Target, two: Two) -> None:
    assert len({two.brickyard, two.foundry}) == 2
    assert not any(str(number) == two.brickyard for number in two.numbers)
    assert all(one in string.ascii_lowercase + "234567" for one in two.brickyard)


def test_the_link_of_a_session_that_is_closed(
    tmp_path_factory: pytest.TempPathFactory,
) -> None:
    """On a screen of its own, since the evening is over afterwards. A stream ends with it, too."""
    folder = tmp_path_factory.mktemp("closed")
    logbook = folder / "demo" / "logbook.sqlite"
    with running(["demo", "--no-crew", "--folder", str(logbook.parent)], folder) as demo:
        target = Target(demo, logbook)
        _, link = make(target, job())
        until(lambda: target.send("GET", f"/api/crew/{link}").status == 200)
        assert target.post("/api/session", {"command": "close"}, target.host()).status == 202
        until(lambda: target.send("GET", f"/api/crew/{link}").status == 410)
        with target.unchanged():
            every_door(target, link, 410)
        assert target.post("/api/session", {"command": "open"}, target.host()).status == 202
        until(lambda: target.send("GET", "/api/state").json["head"]["opened"])
        with target.unchanged():
            every_door(target, link, 410)


def test_a_hidden_request_with_a_link(target: Target, two: Two) -> None:
    body = '{"command": "ask"}'
    inner = (
        f"POST /api/crew/{two.brickyard}/orders HTTP/1.1\r\nHost: localhost\r\n"
        f"Content-Type: {JSON_TYPE}\r\nContent-Length: {len(body)}\r\n\r\n{body}"
    )
    with target.unchanged():
        got = target.raw(
            f"POST /api/me HTTP/1.1\r\nHost: localhost\r\nTransfer-Encoding: chunked\r\n"
            f"Content-Length: {len(inner) + 5}\r\n\r\n0\r\n\r\n{inner}".encode()
        )
        assert b" 202 " not in got
