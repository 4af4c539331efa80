"""At the door: PINs that are wrong, odd, too big or too many."""

from __future__ import annotations

from pathlib import Path

import pytest

from attacks.target import ATTACKER, HAND, JSON_TYPE, Target, refused
from firmware_py.logbook.opening import open_engine
from firmware_py.logbook.screen.pin import set_pin
from web.access.door import Door
from web.access.tries import FREE
from web.asks import AskError

BESIDE = "127.0.0.67"


def test_acting_without_a_pin(target: Target) -> None:
    with target.unchanged():
        refused(target.post("/api/hands", HAND), 401)


@pytest.mark.parametrize(
    "pin",
    ["0", "wrong", " ", "' OR 1=1 --", "pin\x00", "\u202e4321", "😀" * 8, "%s%n", "scrypt$1$1$1$$"],
    ids=["digit", "word", "blank", "sql", "nul", "bidi", "astral", "format", "hash"],
)
def test_a_wrong_pin(target: Target, pin: str) -> None:
    target.query("DELETE FROM access")
    with target.unchanged():
        answer = refused(target.post("/api/host", {"pin": pin}, whence=f"127.0.1.{len(pin) + 1}"))
        assert not answer.cookies
        assert "token" not in answer.text
    assert [row[2] for row in target.query("SELECT * FROM access")] == ["wrong PIN"]


@pytest.mark.parametrize(
    "body",
    [
        b'{"pin": ""}',
        b'{"pin": 1234}',
        b'{"pin": null}',
        b'{"pin": true}',
        b'{"pin": ["1", "2"]}',
        b'{"pin": {"$ne": null}}',
        b'{"PIN": "1234"}',
        b'{"pin": "1234", "host": true}',
        b'{"pin": "\\ud800"}',
        b'{"pin": "\xff\xfe"}',
        b'["1234"]',
        b"",
        b'{"pin": "' + b"7" * 65 + b'"}',
    ],
)
def test_what_is_no_pin_at_all(target: Target, body: bytes) -> None:
    with target.unchanged():
        assert not refused(target.post("/api/host", body), 400).cookies


def test_a_pin_of_one_megabyte(target: Target) -> None:
    with target.unchanged():
        refused(target.post("/api/host", b'{"pin": "' + b"7" * 2**20 + b'"}'), 413)


def test_the_right_pin_with_something_around_it(target: Target) -> None:
    with target.unchanged():
        for number, pin in enumerate((f" {target.pin}", f"{target.pin} ", target.pin[:-1])):
            whence = f"127.0.2.{number + 1}"
            refused(target.post("/api/host", {"pin": pin}, whence=whence), 403)


def test_the_right_pin_in_the_address(target: Target) -> None:
    """It would end up in histories and logs; it is not even looked for there."""
    with target.unchanged():
        refused(target.send("GET", f"/api/host?pin={target.pin}"), 404, 405)
        refused(target.post(f"/api/host?pin={target.pin}", {}), 400)


def test_the_right_pin_as_a_form(target: Target) -> None:
    form = {"Content-Type": "application/x-www-form-urlencoded"}
    with target.unchanged():
        refused(target.send("POST", "/api/host", f"pin={target.pin}".encode(), form), 415)


def test_the_right_pin_given_by_another_page(target: Target) -> None:
    """Else a page elsewhere could sign a browser in, and know that it is."""
    head = {"Origin": "http://evil.example", "Sec-Fetch-Site": "cross-site"}
    with target.unchanged():
        assert not refused(target.post("/api/host", {"pin": target.pin}, head), 403).cookies


def test_too_many_wrong_pins_have_to_wait_even_with_the_right_one(target: Target) -> None:
    with target.unchanged():
        for _ in range(FREE):
            refused(target.post("/api/host", {"pin": "wrong"}, whence=ATTACKER), 403)
        for pin in ("wrong", target.pin, target.pin):
            answer = refused(target.post("/api/host", {"pin": pin}, whence=ATTACKER), 429)
            assert 1 <= int(answer.head["retry-after"]) <= 300
            assert "wait" in answer.json["error"]
            assert not answer.cookies


def test_pretending_another_address_does_not_shorten_the_wait(target: Target) -> None:
    for _ in range(FREE):
        target.post("/api/host", {"pin": "wrong"}, whence=ATTACKER)
    with target.unchanged():
        for name in ("X-Forwarded-For", "Forwarded", "X-Real-IP", "Client-IP"):
            head = {name: "for=127.0.0.9" if name == "Forwarded" else "127.0.0.9"}
            refused(target.post("/api/host", {"pin": target.pin}, head, ATTACKER), 429)


def test_one_caller_who_has_to_wait_does_not_lock_the_host_out(target: Target) -> None:
    for _ in range(FREE + 1):
        target.post("/api/host", {"pin": "wrong"}, whence=ATTACKER)
    answer = target.post("/api/host", {"pin": target.pin}, whence=BESIDE)
    assert answer.status == 200


def test_wrong_pins_from_a_thousand_addresses(tmp_path: Path) -> None:
    """The door counts for all of them together, on a clock of the test's own."""
    engine = open_engine(str(tmp_path / "logbook.sqlite"))
    set_pin(engine, "gorse-4171")
    now_s = [0.0]
    door = Door(engine, wall_us=lambda: 0, now_s=lambda: now_s[0])
    tried = 0
    for number in range(1_000):
        now_s[0] += 0.01
        with pytest.raises(AskError) as told:
            door.enter("wrong", f"10.0.{number // 250}.{number % 250}")
        tried += told.value.status == 403
    assert 10 * FREE <= tried <= 10 * FREE + 1  # One more when the first wait is over.
    engine.dispose()


def test_a_pin_where_none_is_set(tmp_path: Path) -> None:
    """Nobody is let in, and it is said what to run."""
    engine = open_engine(str(tmp_path / "logbook.sqlite"))
    door = Door(engine, wall_us=lambda: 0)
    for pin in ("", "0000", "None", "null"):
        with pytest.raises(AskError, match="spurlock pin") as told:
            door.enter(pin, "10.0.0.1")
        assert told.value.status == 403
    engine.dispose()


def test_content_types_that_only_look_like_json(target: Target) -> None:
    body = b'{"pin": "' + target.pin.encode() + b'"}'
    with target.unchanged():
        for kind in (f"text/{JSON_TYPE}", "application/jsonp", f"text/plain; {JSON_TYPE}", ""):
            refused(target.send("POST", "/api/host", body, {"Content-Type": kind}), 415)
