"""Below HTTP's good manners: smuggled requests, endless headers, slow callers, and crowds."""

from __future__ import annotations

import contextlib
import re
import resource
import socket
import ssl
import subprocess
import sys
import time
from collections.abc import Iterator
from pathlib import Path

import pytest

from attacks.target import ATTACKER, HAND, HOST, JSON_TYPE, PATIENCE_S, Target, refused

ROOT = Path(__file__).parents[2]
INNER_BODY = '{"contact": "brickyard-switch.hasp", "made": false}'


def statuses(got: bytes) -> list[int]:
    """The status of every answer in what came back."""
    return [int(found) for found in re.findall(rb"HTTP/1\.[01] (\d{3})", got)]


def inner(target: Target) -> str:
    """A whole request that would move a contact, were it taken for one."""
    head = "".join(f"{name}: {value}\r\n" for name, value in target.host().items())
    return (
        f"POST /api/hands HTTP/1.1\r\nHost: localhost\r\nContent-Type: {JSON_TYPE}\r\n"
        f"{head}Content-Length: {len(INNER_BODY)}\r\n\r\n{INNER_BODY}"
    )


SMUGGLED = {
    "both-lengths-and-chunks": "Content-Length: {length}\r\nTransfer-Encoding: chunked\r\n",
    "chunks-and-then-a-length": "Transfer-Encoding: chunked\r\nContent-Length: {length}\r\n",
    "chunks-twice": "Transfer-Encoding: chunked\r\nTransfer-Encoding: identity\r\n"
    "Content-Length: {length}\r\n",
    "chunks-with-a-tab": "Transfer-Encoding:\tchunked\r\nContent-Length: {length}\r\n",
    "chunks-behind-a-space": "Transfer-Encoding : chunked\r\nContent-Length: {length}\r\n",
    "chunks-misspelt": "Transfer-Encoding: xchunked\r\nContent-Length: {length}\r\n",
    "chunks-on-a-folded-line": "Transfer-Encoding:\r\n chunked\r\nContent-Length: {length}\r\n",
    "two-lengths": "Content-Length: 5\r\nContent-Length: {length}\r\n",
    "two-lengths-in-one": "Content-Length: 5, {length}\r\n",
    "a-signed-length": "Content-Length: +5\r\n",
    "a-length-behind-what-is-no-header": "X-A : 1\r\nContent-Length: {length}\r\n",
    "a-length-behind-a-word": "nothing\r\nContent-Length: {length}\r\n",
    "a-length-with-an-underline": "Content_Length: {length}\r\nContent-Length: 5, 5\r\n",
}


@pytest.mark.parametrize("framing", SMUGGLED.values(), ids=SMUGGLED.keys())
def test_a_request_hidden_in_anothers_body(target: Target, framing: str) -> None:
    """Where two readings of the length differ, neither may let the hidden one through."""
    hidden = "0\r\n\r\n" + inner(target)
    head = f"POST /api/me HTTP/1.1\r\nHost: localhost\r\nContent-Type: {JSON_TYPE}\r\n"
    with target.unchanged():
        got = target.raw((head + framing.format(length=len(hidden)) + "\r\n" + hidden).encode())
        assert len(statuses(got)) <= 1
        assert all(400 <= status < 502 for status in statuses(got))


@pytest.mark.parametrize(
    "chunk",
    ["-1\r\n{}\r\n", "0x33\r\n{}\r\n", "33;a=b\n{}\r\n", "ffffffffffffffff\r\n{}\r\n", "3 3\r\n{}"],
    ids=["negative", "hex", "bare-newline", "overflow", "spaced"],
)
def test_a_chunk_whose_length_is_none(target: Target, chunk: str) -> None:
    head = "".join(f"{name}: {value}\r\n" for name, value in target.host().items())
    with target.unchanged():
        got = target.raw(
            (
                f"POST /api/hands HTTP/1.1\r\nHost: localhost\r\nContent-Type: {JSON_TYPE}\r\n"
                f"{head}Transfer-Encoding: chunked\r\n\r\n{chunk.format(INNER_BODY)}0\r\n\r\n"
            ).encode(),
            quiet_s=1.0,
        )
        assert all(400 <= status < 502 for status in statuses(got))


@pytest.mark.parametrize(
    "lines",
    [
        "Host: localhost\r\nHost: evil.example\r\n",
        "Host: evil.example\r\nHost: localhost\r\n",
        "Host: localhost\r\n evil.example\r\n",
        "Host : localhost\r\n",
        "Host: localhost\r\nX-A\x00B: 1\r\n",
        "Host: localhost\r\n: nothing\r\n",
        "Host: localhost\r\nno colon here\r\n",
    ],
    ids=["twice", "twice-evil-first", "folded", "spaced", "nul", "nameless", "no-colon"],
)
def test_headers_that_are_none(target: Target, lines: str) -> None:
    """One that is taken as it stands is this machine's own or is refused."""
    head = "".join(f"{name}: {value}\r\n" for name, value in target.host().items())
    with target.unchanged():
        got = target.raw(
            f"POST /api/host/leave HTTP/1.1\r\n{lines}{head}Connection: close\r\n\r\n".encode(),
            quiet_s=1.0,
        )
        assert all(400 <= status < 500 for status in statuses(got))


def test_an_absolute_address_of_another_host(target: Target) -> None:
    """It is never fetched, and never taken for this machine's own name."""
    with target.unchanged():
        got = target.raw(
            b"GET http://evil.example/api/me HTTP/1.1\r\nHost: evil.example\r\n"
            b"Connection: close\r\n\r\n"
        )
        assert statuses(got) in ([400], [404], [421])


@pytest.mark.parametrize("size", [300_000, 5_000_000])
def test_a_header_that_does_not_end(target: Target, size: int) -> None:
    with target.unchanged():
        start = b"GET / HTTP/1.1\r\nHost: localhost\r\nX-Long: "
        got = target.raw(start + b"x" * size + b"\r\n\r\n")
        assert all(400 <= status < 500 for status in statuses(got))
        assert 200 not in statuses(got)


def test_a_hundred_thousand_headers(target: Target) -> None:
    with target.unchanged():
        lines = b"".join(b"X-%d: y\r\n" % number for number in range(100_000))
        got = target.raw(b"GET / HTTP/1.1\r\nHost: localhost\r\n" + lines + b"\r\n")
        assert 200 not in statuses(got)
        assert all(400 <= status < 500 for status in statuses(got))


@pytest.mark.parametrize(
    "data",
    [
        b"\x16\x03\x01\x02\x00\x01\x00\x01\xfc\x03\x03" + bytes(500),
        b"PRI * HTTP/2.0\r\n\r\nSM\r\n\r\n",
        b"\x00" * 4_096,
        bytes(range(256)) * 64 + b"\r\n\r\n",
        b"GET\r\n\r\n",
        b"GET / HTTP/9.9\r\n\r\n",
        b"\r\n" * 10_000,
        b"SSH-2.0-OpenSSH_9.2\r\n\r\n",
        b"EHLO evil.example\r\nMAIL FROM:<a@evil.example>\r\n\r\n",
    ],
    ids=["tls", "http2", "nul", "bytes", "bare", "version", "newlines", "ssh", "smtp"],
)
def test_what_is_not_http_at_all(target: Target, data: bytes) -> None:
    with target.unchanged():
        got = target.raw(data, quiet_s=0.5)
        assert not any(200 <= status < 400 for status in statuses(got))
        assert b"Traceback" not in got


def test_asking_for_tls(target: Target) -> None:
    with target.unchanged(), socket.create_connection((HOST, target.port), PATIENCE_S) as line:
        context = ssl.create_default_context()
        with pytest.raises(OSError, match=r".*"):
            context.wrap_socket(line, server_hostname="localhost")


def test_hundreds_of_requests_at_once_down_one_line(target: Target) -> None:
    """Each is refused, however many come before their answers are read."""
    one = f"POST /api/hands HTTP/1.1\r\nHost: localhost\r\nContent-Type: {JSON_TYPE}\r\n"
    one += f"Content-Length: {len(INNER_BODY)}\r\n\r\n{INNER_BODY}"
    with target.unchanged():
        got = target.raw(one.encode() * 200, quiet_s=5.0)
        assert statuses(got)
        assert set(statuses(got)) == {401}


@contextlib.contextmanager
def lines(target: Target, count: int, data: bytes = b"") -> Iterator[list[socket.socket]]:
    """So many connections of the attacker's, each with something said on it, or nothing."""
    soft, hard = resource.getrlimit(resource.RLIMIT_NOFILE)
    room = min(hard, max(soft, count + 200))
    resource.setrlimit(resource.RLIMIT_NOFILE, (room, hard))
    with contextlib.ExitStack() as stack:
        stack.callback(resource.setrlimit, resource.RLIMIT_NOFILE, (soft, hard))
        opened = []
        for _ in range(count):
            with contextlib.suppress(OSError):
                line = socket.create_connection((HOST, target.port), 2.0, (ATTACKER, 0))
                stack.enter_context(line)
                if data:
                    line.sendall(data)
                opened.append(line)
        yield opened


@pytest.mark.parametrize("count", [500, 1_500])
def test_connections_that_say_nothing(target: Target, count: int) -> None:
    """With 500 of them others are served all the same.

    With more than a small machine has room for,
    the screen may turn callers away, and is there again when they have gone.
    """
    with target.unchanged():
        with lines(target, count) as opened:
            if count == 500:
                assert len(opened) == count
                assert target.send("GET", "/health").status == 200
                refused(target.post("/api/hands", HAND), 401)
        target.serves()


@pytest.mark.parametrize(
    "start",
    [
        b"GET / HTTP/1.1\r\nHost: localhost\r\nX-",
        b"POST /api/hands HTTP/1.1\r\nHost: localhost\r\nContent-Type: application/json\r\n"
        b"Content-Length: 50\r\n\r\n{",
        b"POST /api/hands HTTP/1.1\r\nHost: localhost\r\nContent-Type: application/json\r\n"
        b"Transfer-Encoding: chunked\r\n\r\n1",
        b"G",
    ],
    ids=["header", "body", "chunk", "method"],
)
def test_slow_callers_who_never_finish(target: Target, start: bytes) -> None:
    """Three hundred of them, each with another letter now and then; others are still served."""
    with target.unchanged(), lines(target, 300, start) as opened:
        for _ in range(3):
            for line in opened:
                with contextlib.suppress(OSError):
                    line.sendall(b"a")
            assert target.send("GET", "/api/state").status == 200
            time.sleep(0.1)
        refused(target.post("/api/hands", HAND), 401)


def test_callers_who_ask_and_never_read(target: Target) -> None:
    asked = b"GET /api/openapi.json HTTP/1.1\r\nHost: localhost\r\n\r\n" * 50
    with target.unchanged(), lines(target, 40, asked):
        for _ in range(5):
            assert target.send("GET", "/health").status == 200
    target.serves()


def test_callers_who_hang_up_at_once(target: Target) -> None:
    with target.unchanged():
        for _ in range(300):
            with contextlib.suppress(OSError):
                line = socket.create_connection((HOST, target.port), 2.0, (ATTACKER, 0))
                line.sendall(b"GET /api/events HTTP/1.1\r\nHost: localhost\r\n\r\n")
                line.setsockopt(socket.SOL_SOCKET, socket.SO_LINGER, b"\x01\0\0\0\0\0\0\0")
                line.close()
        target.serves()
        end_s = time.monotonic() + PATIENCE_S * 2
        while target.send("GET", "/health").json["streams"]:
            assert time.monotonic() < end_s, "streams of those who have gone are still held"
            time.sleep(0.2)


@contextlib.contextmanager
def beside(target: Target, *words: str) -> Iterator[Target]:
    """Another screen over the same logbook, started with these words."""
    command = [sys.executable, "-m", "web", "--logbook", str(target.logbook), "--port", "0", *words]
    process = subprocess.Popen(command, cwd=ROOT, stdout=subprocess.PIPE, text=True)
    try:
        assert process.stdout is not None
        said = re.search(r":(\d+)/", process.stdout.readline())
        assert said is not None
        other = Target(target.demo, target.logbook)
        other.port = int(said[1])
        other.serves()
        yield other
    finally:
        process.terminate()
        process.wait(PATIENCE_S)
        assert process.stdout is not None
        process.stdout.close()


def test_more_streams_than_there_are_places(target: Target) -> None:
    stream = b"GET /api/events HTTP/1.1\r\nHost: localhost\r\n\r\n"
    with target.unchanged(), beside(target, "--streams", "3") as other:
        with lines(other, 3, stream) as opened:
            for line in opened:
                assert b"200 OK" in line.recv(4_096)
            for _ in range(5):
                answer = other.send("GET", "/api/events")
                assert answer.status == 503
                assert "screens are open already" in answer.json["error"]
            assert other.send("GET", "/health").json["streams"] == 3
            assert other.send("GET", "/").status == 200
        end_s = time.monotonic() + PATIENCE_S
        while other.send("GET", "/health").json["streams"]:
            assert time.monotonic() < end_s
            time.sleep(0.1)
