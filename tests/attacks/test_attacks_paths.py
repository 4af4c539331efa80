"""Paths that would leave the folder, methods that nothing takes, and looks that change nothing."""

from __future__ import annotations

import pytest

from attacks.target import LEAKS, Target, refused
from web.describing import description

SECRET = ("def ", "import ", "root:", "SQLite format 3", "[layout]")
OUT = [
    "/static/../app.py",
    "/static/../../pyproject.toml",
    "/static/%2e%2e/app.py",
    "/static/%2e%2e%2fapp.py",
    "/static/..%2fapp.py",
    "/static/..%5capp.py",
    "/static/..\\app.py",
    "/static/....//app.py",
    "/static/%252e%252e/app.py",
    "/static//app.py",
    "/static//etc/passwd",
    "/static/%2fetc%2fpasswd",
    "/static//proc/self/environ",
    "/static/./../app.py",
    "/static/base.css/../../app.py",
    "/static/base.css%00.py",
    "/static/%00",
    "/static/%c0%ae%c0%ae/app.py",
    "/static/%e0%80%ae%e0%80%ae/app.py",
    "/static/..;/app.py",
    "/static/file:///etc/passwd",
    "/static/C:%5cWindows%5cwin.ini",
    "/static/con",
    "/static/~root/.ssh/id_rsa",
    "/../../../../etc/passwd",
    "/%2e%2e/%2e%2e/etc/passwd",
    "/logbook.sqlite",
    "/static/../../logbook.sqlite",
    "/.git/config",
    "/web/app.py",
    "/templates/frame.html",
    "/console",
    "/?__debugger__=yes&cmd=resource&f=style.css",
]
"""From memory: what is tried at any server that is found."""


@pytest.mark.parametrize("path", OUT)
def test_a_path_that_would_leave_the_folder(target: Target, path: str) -> None:
    with target.unchanged():
        answer = target.send("GET", path)
        if path.startswith("/?"):
            assert answer.status == 200  # The board itself, which takes no words.
        else:
            refused(answer, 400, 404)
        assert not any(word in answer.text for word in SECRET)


@pytest.mark.parametrize("path", ["/static/", "/static", "/static/.", "/api/", "/api"])
def test_listing_a_folder(target: Target, path: str) -> None:
    with target.unchanged():
        answer = refused(target.send("GET", path), 404)
        assert "base.css" not in answer.text


def _changing() -> list[str]:
    """Every path that is described as changing something, with something in its blanks."""
    found = []
    for path, kinds in description()["paths"].items():
        if kinds.keys() & {"post", "put", "delete", "patch"}:
            found.append(path.replace("{", "").replace("}", ""))
    return sorted(found)


@pytest.mark.parametrize("path", _changing())
def test_changing_something_by_only_looking(target: Target, path: str) -> None:
    """As a link in a message, or an image's address, would make the host's browser do."""
    kinds = next(
        kinds
        for described, kinds in description()["paths"].items()
        if described.replace("{", "").replace("}", "") == path
    )
    with target.unchanged():
        for query in ("", "?command=ask&spur=brickyard", "?contact=brickyard-switch.hasp&made="):
            for method in ("GET", "HEAD"):
                answer = target.send(method, path + query, head=target.host())
                if "get" not in kinds:
                    refused(answer, 404, 405)
                assert answer.status < 500


@pytest.mark.parametrize("method", ["TRACE", "PUT", "DELETE", "PATCH", "CONNECT", "PROPFIND", "X"])
def test_a_method_that_nothing_takes(target: Target, method: str) -> None:
    with target.unchanged():
        for path in ("/", "/bench", "/api/state", "/api/host", "/api/orders", "/static/base.css"):
            answer = refused(target.send(method, path, head=target.host()), 400, 404, 405, 501)
            assert target.host()["X-Spurlock-Token"] not in answer.text  # TRACE would echo it.


@pytest.mark.parametrize("method", ["get", "Post", "GET\tX", "G" * 9_000])
def test_a_method_that_is_none(target: Target, method: str) -> None:
    with target.unchanged():
        line = f"{method} /api/orders HTTP/1.1\r\nHost: localhost\r\nConnection: close\r\n\r\n"
        got = target.raw(line.encode())
        assert not got or 400 <= int(got.split()[1]) < 500 or got.split()[1] == b"501"


@pytest.mark.parametrize("length", [5_000, 60_000, 500_000])
def test_a_path_that_does_not_end(target: Target, length: int) -> None:
    with target.unchanged():
        line = f"GET /{'a' * length} HTTP/1.1\r\nHost: localhost\r\nConnection: close\r\n\r\n"
        got = target.raw(line.encode())
        assert not got or 400 <= int(got.split()[1]) < 500
        assert not any(leak.encode() in got for leak in LEAKS)


@pytest.mark.parametrize(
    "number",
    [
        "0",
        "-1",
        "99999999999999999999999999",
        "1e9",
        "1.5",
        "1%20OR%201=1",
        "1;DROP%20TABLE%20request",
        "%00",
        "0x1",
        "\u0661",
        "NaN",
        "1/../../../me",
        "null",
    ],
)
def test_a_requests_number_that_is_none(target: Target, number: str) -> None:
    path = "/api/requests/" + number.encode().decode("latin-1")
    with target.unchanged():
        got = target.raw(
            f"GET {path} HTTP/1.1\r\nHost: localhost\r\nConnection: close\r\n\r\n".encode("latin-1")
        )
        assert got.split()[1] in {b"400", b"404"}
        assert not any(leak.encode() in got for leak in LEAKS)


@pytest.mark.parametrize(
    "after", ["-1", "99999999999999999999", "1 OR 1=1", "\x00", "'", "1e3", "NaN", "\u0663"]
)
def test_a_last_id_that_is_none(target: Target, after: str) -> None:
    """The stream begins from its state, as for anybody who has heard nothing."""
    given = after.encode("utf-8").decode("latin-1").replace("\x00", "%00").replace(" ", "%20")
    with target.unchanged():
        got = target.raw(
            f"GET /api/events?after={given} HTTP/1.1\r\nHost: localhost\r\n\r\n".encode("latin-1"),
            quiet_s=0.5,
        )
        assert got.split()[1] in {b"200", b"400"}
        assert b"event: entries" not in got
