"""What pages and answers give away, and what they would let somebody put into them."""

from __future__ import annotations

from collections.abc import Iterator
from html.parser import HTMLParser
from pathlib import Path

import pytest
from flask import Flask
from service.processes import until

from attacks.target import LEAKS, Target, refused
from attacks.text import job, make
from firmware_py.logbook.opening import open_engine
from firmware_py.logbook.reading import Reader
from web.access.door import COOKIE, Door
from web.app import create_app
from web.backstage import Backstage
from web.describing import description
from web.live.follow import Follower
from web.live.hub import Hub

SECRET_PLACE, SECRET_NOTE = "third-door-on-the-left", "ring-for-the-night-watch"
DIRECTIVES = {
    "default-src": "'none'",
    "base-uri": "'none'",
    "form-action": "'none'",
    "frame-ancestors": "'none'",
    "script-src": "'self'",
    "style-src": "'self'",
    "img-src": "'self'",
    "connect-src": "'self'",
}
PAGES = ["/", "/bench", "/jobs", "/session", "/briefing", "/debrief", "/proof"]


class Inline(HTMLParser):
    """Finds what a strict content policy would stop, and what reaches beyond this machine."""

    def __init__(self) -> None:
        super().__init__()
        self.found: list[str] = []
        self.links: set[str] = set()

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        names = dict(attrs)
        if (tag == "script" and not names.get("src")) or tag in {
            "style",
            "base",
            "iframe",
            "object",
        }:
            self.found.append(tag)
        for name, value in attrs:
            if name.startswith("on") or name == "style":
                self.found.append(f"{tag} {name}")
            if name in {"href", "src", "action", "formaction", "srcset", "data"} and value:
                if not value.startswith(("/", "#", "?")) or value.startswith("//"):
                    self.found.append(f"{tag} {name}={value}")
                elif value.startswith("/"):
                    self.links.add(value.partition("#")[0])


@pytest.fixture(scope="module")
def prepared(target: Target) -> tuple[int, str]:
    """A job that holds what only its crew may read, and a violation; the job and its link."""
    body = job("Local", note=SECRET_NOTE)
    body["stops"][0]["spot"] = [{"car": "XM 1", "place": SECRET_PLACE}]  # type: ignore[index] # a list
    number, link = make(target, body)
    target.demo.hand("foundry-switch.normal", False)
    until(lambda: target.send("GET", "/api/state").json["violations"])
    until(lambda: target.send("GET", f"/api/crew/{link}").status == 200)
    return number, link


def everything(target: Target, number: int, head: dict[str, str]) -> Iterator[tuple[str, str]]:
    """Every path that can be looked at, linked or described, with all that is answered there."""
    todo = {*PAGES, f"/jobs/{number}/sheet"}
    for path, kinds in description()["paths"].items():
        if "get" in kinds and "events" not in path and "{link}" not in path:
            todo.add(path.replace("{number}", str(number)).replace("{session}", "1"))
    done: set[str] = set()
    while todo - done:
        path = min(todo - done)
        done.add(path)
        if "events" in path:
            continue
        answer = target.send("GET", path, head=head)
        assert answer.status < 500, path
        if "html" in answer.head.get("content-type", ""):
            found = Inline()
            found.feed(answer.text)
            todo |= found.links
        yield path, str(dict(answer.head)) + answer.text
    stream = b"GET /api/events?after=0 HTTP/1.1\r\nHost: localhost\r\n"
    lines = "".join(f"{name}: {value}\r\n" for name, value in head.items()).encode()
    yield "/api/events", target.raw(stream + lines + b"\r\n", quiet_s=0.5).decode()


def kept_secrets(target: Target) -> list[str]:
    """What nobody is ever told."""
    [(pin,)] = target.query("SELECT value FROM setting WHERE name = 'pin'")
    [(link,)] = target.query("SELECT value FROM setting WHERE name = 'link-secret'")
    hashes = [row[0] for row in target.query("SELECT id_hash FROM signin")]
    cookie = target.host()["Cookie"].partition("=")[2]
    return [pin, pin.split("$")[-1], pin.split("$")[-2], link, cookie, *hashes]


def test_nothing_that_a_guest_can_look_at_tells_a_secret(
    target: Target, prepared: tuple[int, str]
) -> None:
    """Not the PIN's hash, not a sign-in, not a crew's link, and not what a gate opens to."""
    number, link = prepared
    tokens = [row[0] for row in target.query("SELECT token FROM signin")]
    secrets = [*kept_secrets(target), *tokens, link, SECRET_PLACE, SECRET_NOTE]
    with target.unchanged():
        looked = list(everything(target, number, {}))
    assert len(looked) > 40
    for path, told in looked:
        assert not [one for one in secrets if one in told], path


def test_nothing_that_the_host_can_look_at_tells_what_opens_the_door(
    target: Target, prepared: tuple[int, str]
) -> None:
    secrets = kept_secrets(target)
    with target.unchanged():
        for path, told in everything(target, prepared[0], target.host()):
            assert not [one for one in secrets if one in told], path


def test_a_crew_is_not_told_what_its_gate_opens_to_before_it_is_open(
    target: Target, prepared: tuple[int, str]
) -> None:
    told = target.send("GET", f"/api/crew/{prepared[1]}").text
    told += target.send("GET", f"/crew/{prepared[1]}").text
    assert "XM 1" in told
    assert SECRET_PLACE not in told
    assert SECRET_NOTE not in told


def test_no_page_has_script_style_or_handlers_in_it(
    target: Target, prepared: tuple[int, str]
) -> None:
    pages = [
        *PAGES,
        f"/jobs/{prepared[0]}/sheet",
        f"/crew/{prepared[1]}",
        "/crew/none",
        "/debrief/1",
    ]
    for path in pages:
        answer = target.send("GET", path, head=target.host())
        assert "html" in answer.head["content-type"], path
        page = Inline()
        page.feed(answer.text.replace(f'href="{target.demo.address}/', 'href="/'))
        assert page.found == [], path


def test_the_content_policy_allows_nothing_inline_and_nothing_from_elsewhere(
    target: Target, prepared: tuple[int, str]
) -> None:
    for path in (*PAGES, f"/crew/{prepared[1]}", "/nowhere", "/api/state", "/static/base.css"):
        policy = target.send("GET", path).head["content-security-policy"]
        told = dict(part.strip().partition(" ")[::2] for part in policy.split(";"))
        for name, value in DIRECTIVES.items():
            assert told[name] == value, path
        assert not any(word in policy for word in ("unsafe", "*", "http", "data:", "blob:"))


@pytest.mark.parametrize(
    ("method", "path", "status"),
    [
        ("GET", "/nowhere", 404),
        ("GET", "/debrief/99999999999999999999999", 404),
        ("GET", "/debrief/0", 404),
        ("GET", "/api/requests/99999999999999999999", 404),
        ("GET", "/jobs/99999999999999999999/sheet", 401),
        ("DELETE", "/api/state", 405),
        ("POST", "/api/orders", 415),
        ("GET", "/api/host/door", 401),
    ],
)
def test_an_error_shows_no_entrails(target: Target, method: str, path: str, status: int) -> None:
    with target.unchanged():
        answer = refused(target.send(method, path), status)
        assert "server" not in answer.head or "/" not in answer.head["server"]


def test_the_kinds_of_databases_and_servers_are_nobodys_business(target: Target) -> None:
    for path in ("/", "/api/state", "/nowhere", "/static/base.css"):
        told = str(target.send("GET", path).head).lower()
        for name in ("werkzeug", "flask", "python", "gevent", "waitress", "sqlite", "x-powered"):
            assert name not in told


@pytest.fixture
def app(tmp_path: Path) -> Iterator[Flask]:
    """A screen in this process, so that it can be made to fail."""
    engine = open_engine(str(tmp_path / "logbook.sqlite"))
    reader = Reader(engine)
    follower = Follower(reader, Hub(2))
    door = Door(engine, wall_us=lambda: 0)
    yield create_app(Backstage(engine, reader, follower, door, hands=False))
    follower.close()
    reader.close()
    engine.dispose()


def test_a_mistake_of_our_own_shows_no_entrails_either(app: Flask) -> None:
    def broken() -> str:
        raise RuntimeError("the scrypt hash is scrypt$16384")

    app.view_functions["board"] = broken
    answer = app.test_client().get("/")
    assert answer.status_code == 500
    assert answer.headers["Content-Security-Policy"]
    assert "scrypt" not in answer.text
    assert not any(leak in answer.text for leak in LEAKS)


def test_before_any_session_everything_is_refused(app: Flask) -> None:
    guest = app.test_client()
    for path in ("/api/orders", "/api/hands", "/api/jobs", "/api/session"):
        answer = guest.post(path, json={})
        assert 400 <= answer.status_code < 500
    assert guest.get("/crew/" + "a" * 20).status_code in {404, 409}
    assert COOKIE not in str(guest.get("/").headers)
