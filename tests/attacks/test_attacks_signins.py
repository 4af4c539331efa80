"""Cookies and tokens: alone, old, made up, and other people's."""

from __future__ import annotations

import hashlib
import time

import pytest

from attacks.target import ASK, HAND, Target, refused
from web.access.door import COOKIE, LASTS_S, TOKEN_HEADER

DOORS = ["/api/orders", "/api/hands", "/api/host/leave"]
BODIES = {"/api/orders": ASK, "/api/hands": HAND, "/api/host/leave": {}}


@pytest.mark.parametrize("path", DOORS)
def test_a_cookie_without_its_token(target: Target, path: str) -> None:
    """What a browser sends along by itself when another page makes it ask."""
    with target.unchanged():
        head = target.host()
        del head[TOKEN_HEADER]
        refused(target.post(path, BODIES[path], head), 403)


@pytest.mark.parametrize("path", DOORS)
def test_a_token_without_its_cookie(target: Target, path: str) -> None:
    with target.unchanged():
        head = target.host()
        del head["Cookie"]
        refused(target.post(path, BODIES[path], head), 401)


@pytest.mark.parametrize("path", DOORS)
def test_another_browsers_token(target: Target, path: str) -> None:
    other = target.another()
    with target.unchanged():
        head = target.host() | {TOKEN_HEADER: other[TOKEN_HEADER]}
        refused(target.post(path, BODIES[path], head), 403)


@pytest.mark.parametrize(
    "token",
    ["", "null", "undefined", "0", "a" * 43, "' OR '1'='1", "é", "a" * 8_000],
    ids=["empty", "null", "undefined", "zero", "as-long", "sql", "not-ascii", "long"],
)
def test_a_made_up_token(target: Target, token: str) -> None:
    with target.unchanged():
        refused(target.post("/api/hands", HAND, target.host() | {TOKEN_HEADER: token}), 403, 431)


def test_the_token_in_the_address_or_in_the_body(target: Target) -> None:
    with target.unchanged():
        head = target.host()
        token = head.pop(TOKEN_HEADER)
        refused(target.post(f"/api/hands?{TOKEN_HEADER}={token}&token={token}", HAND, head), 403)
        refused(target.post("/api/hands", {**HAND, "token": token}, head), 400)


@pytest.mark.parametrize(
    "cookie",
    ["", "x", "a" * 43, "' OR '1'='1' --", "%00", "..", "é", '"quoted"', "a" * 6_000],
    ids=["empty", "x", "as-long", "sql", "nul", "dots", "not-ascii", "quoted", "long"],
)
def test_a_made_up_cookie(target: Target, cookie: str) -> None:
    with target.unchanged():
        head = {"Cookie": f"{COOKIE}={cookie}", TOKEN_HEADER: target.host()[TOKEN_HEADER]}
        refused(target.post("/api/hands", HAND, head), 401, 431)


def test_what_a_stolen_logbook_holds_as_a_cookie(target: Target) -> None:
    """Only the cookie's hash is kept, and the hash opens nothing."""
    head = target.host()
    value = head["Cookie"].partition("=")[2]
    kept = {row[0]: row[1] for row in target.query("SELECT id_hash, token FROM signin")}
    assert hashlib.sha256(value.encode()).hexdigest() in kept
    assert value not in kept
    with target.unchanged():
        for stolen, token in kept.items():
            forged = {"Cookie": f"{COOKIE}={stolen}", TOKEN_HEADER: token}
            refused(target.post("/api/hands", HAND, forged), 401)


def test_a_sign_in_that_was_signed_out(target: Target) -> None:
    other = target.another()
    assert target.is_host(other)
    answer = target.post("/api/host/leave", {}, other)
    assert answer.status == 200
    [cookie] = answer.cookies
    assert cookie.startswith(f"{COOKIE}=;")
    with target.unchanged():
        refused(target.post("/api/hands", HAND, other), 401)
        assert not target.is_host(other)
        assert target.is_host(target.host())  # One browser's leaving is not another's.


def test_signing_another_browser_out(target: Target) -> None:
    other = target.another()
    with target.unchanged():
        cookie = {"Cookie": other["Cookie"], TOKEN_HEADER: target.host()[TOKEN_HEADER]}
        refused(target.post("/api/host/leave", {}, cookie), 403)
    assert target.is_host(other)


def test_a_sign_in_from_before_the_pin_was_changed(target: Target) -> None:
    others = [target.another(), target.another()]
    target.fresh_pin()
    with target.unchanged():
        for other in others:
            refused(target.post("/api/hands", HAND, other), 401)


def test_a_sign_in_that_is_too_old(target: Target) -> None:
    other = target.another()
    value = other["Cookie"].partition("=")[2]
    long_ago_us = time.time_ns() // 1_000 - (LASTS_S + 60) * 1_000_000
    target.query(
        "UPDATE signin SET began_wall_us = ? WHERE id_hash = ?",
        long_ago_us,
        hashlib.sha256(value.encode()).hexdigest(),
    )
    with target.unchanged():
        refused(target.post("/api/hands", HAND, other), 401)
        assert not target.is_host(other)
    target.another()  # At the next sign-in the old one is forgotten.
    assert not target.query("SELECT 1 FROM signin WHERE began_wall_us = ?", long_ago_us)


def test_two_cookies_of_one_name(target: Target) -> None:
    """Whichever is taken, one that is made up gives nobody a second try."""
    with target.unchanged():
        head = target.host()
        token = head[TOKEN_HEADER]
        twice = {"Cookie": f"{COOKIE}=made-up; {COOKIE}=other", TOKEN_HEADER: token}
        refused(target.post("/api/hands", HAND, twice), 401)


def test_a_cookie_of_another_name_or_as_another_header(target: Target) -> None:
    with target.unchanged():
        head = target.host()
        value = head["Cookie"].partition("=")[2]
        token = {TOKEN_HEADER: head[TOKEN_HEADER]}
        for other in (
            {"Cookie": f"session={value}"},
            {"Cookie": f"{COOKIE.upper()}={value}"},
            {"Authorization": f"Bearer {value}"},
            {"X-Cookie": head["Cookie"]},
        ):
            refused(target.post("/api/hands", HAND, other | token), 401)


def test_fixing_a_cookie_before_the_host_signs_in(target: Target) -> None:
    """A value that somebody else has planted is not taken over: a new one is drawn."""
    planted = {"Cookie": f"{COOKIE}=planted"}
    answer = target.post("/api/host", {"pin": target.pin}, planted)
    assert answer.status == 200
    assert "planted" not in "".join(answer.cookies)
    with target.unchanged():
        head = planted | {TOKEN_HEADER: answer.json["token"]}
        refused(target.post("/api/hands", HAND, head), 401)


def test_the_cookie_is_out_of_reach_of_scripts_and_of_other_sites(target: Target) -> None:
    answer = target.post("/api/host", {"pin": target.pin})
    [cookie] = answer.cookies
    name, *flags = (part.strip() for part in cookie.split(";"))
    assert {"HttpOnly", "SameSite=Strict", "Path=/"} <= set(flags)
    assert not any(flag.lower().startswith("domain") for flag in flags)
    value = name.partition("=")[2]
    assert len(value) >= 43  # 32 random bytes, as letters.
    assert value not in answer.text


def test_cookies_and_tokens_are_never_drawn_twice(target: Target) -> None:
    drawn = [target.another() for _ in range(5)]
    values = [one["Cookie"] for one in drawn] + [one[TOKEN_HEADER] for one in drawn]
    assert len(set(values)) == len(values)


@pytest.mark.parametrize("head", [{}, {"Cookie": f"{COOKIE}=made-up"}], ids=["none", "made-up"])
def test_reading_who_was_at_the_door_without_being_the_host(
    target: Target, head: dict[str, str]
) -> None:
    with target.unchanged():
        answer = refused(target.send("GET", "/api/host/door", head=head), 401)
        assert "calls" not in answer.text


def test_the_host_sees_who_was_at_the_door(target: Target) -> None:
    """And a caller can not write into that list what is not so."""
    refused(target.post("/api/host", {"pin": "<b>wrong</b>"}, whence="127.0.0.99"), 403)
    calls = target.send("GET", "/api/host/door", head=target.host()).json["calls"]
    assert 0 < len(calls) <= 10
    assert {"what": "wrong PIN", "whence": "127.0.0.99"}.items() <= calls[0].items()
    assert "<b>" not in str(calls)
