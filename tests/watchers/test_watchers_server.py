"""The server's own manners, with an application of a few lines."""

from __future__ import annotations

import contextlib
import http.client
import socket
import threading
import time
from collections.abc import Callable, Iterable, Iterator
from typing import TYPE_CHECKING

import pytest

import web.server.handler
from web.live.hub import Event, Hub
from web.serve import listen
from web.server.loop import Loop
from web.server.server import Server

if TYPE_CHECKING:
    from _typeshed.wsgi import StartResponse, WSGIEnvironment

PATIENCE_S = 30.0
MOST_STREAMS = 3
MOST = 4
BIG = Event("state", 1, b"x" * 200_000)


class Served:
    """A server in a thread: ``/stream`` streams a hub, ``/slow`` waits for ``go``."""

    def __init__(self) -> None:
        self.go = threading.Event()
        self.slow = threading.Event()
        listening = listen("127.0.0.1", 0, stalled_after_s=4.0)
        self.port = listening.getsockname()[1]
        ready = threading.Event()
        self._thread = threading.Thread(target=self._run, args=(listening, ready))
        self._thread.start()
        assert ready.wait(PATIENCE_S)

    def _run(self, listening: socket.socket, ready: threading.Event) -> None:
        loop = Loop(2)
        self.hub = Hub(MOST_STREAMS, loop)
        self.server = Server(listening, self.app, loop, MOST)
        ready.set()
        self.server.serve_forever()

    def app(self, environ: WSGIEnvironment, start: StartResponse) -> Iterable[bytes]:
        path = environ["PATH_INFO"]
        kind = "text/event-stream" if path == "/stream" else "text/plain"
        start("200 OK", [("Content-Type", kind)])
        if path == "/stream":
            return self.frames()
        if path == "/slow":
            self.slow.set()
            assert self.go.wait(PATIENCE_S)
        return [environ["REQUEST_METHOD"].encode() + b" " + environ["wsgi.input"].read()]

    def frames(self) -> Iterator[bytes]:
        subscribed = self.hub.subscribe()
        assert subscribed is not None
        stream, _ = subscribed
        yield b": hello\n\n"
        try:
            while not self.hub.ended(stream):
                for event in self.hub.take(stream, PATIENCE_S):
                    yield event.frame()
        finally:
            self.hub.leave(stream)

    def call(self, said: bytes = b"", *, room: int | None = None) -> socket.socket:
        line = socket.socket()
        if room is not None:
            line.setsockopt(socket.SOL_SOCKET, socket.SO_RCVBUF, room)
        line.settimeout(PATIENCE_S)
        line.connect(("127.0.0.1", self.port))
        line.sendall(said)
        return line

    def stream(self, *, room: int | None = None) -> socket.socket:
        """An open stream."""
        before = self.hub.streams
        line = self.call(b"GET /stream HTTP/1.1\r\nHost: localhost\r\n\r\n", room=room)
        until(lambda: self.hub.streams == before + 1)
        return line

    def ask(self, path: str = "/", body: bytes = b"") -> tuple[int, bytes]:
        """A request on a connection of its own."""
        line = http.client.HTTPConnection("127.0.0.1", self.port, PATIENCE_S)
        with contextlib.closing(line):
            line.request("POST", path, body)
            answer = line.getresponse()
            return answer.status, answer.read()

    def close(self) -> None:
        self.go.set()
        self.hub.close()
        self.server.stop_soon()
        self._thread.join(PATIENCE_S)
        assert not self._thread.is_alive()


@pytest.fixture
def served() -> Iterator[Served]:
    served = Served()
    yield served
    served.close()


def until(true: Callable[[], bool]) -> None:
    """Wait for something that comes without being announced."""
    last = time.monotonic() + PATIENCE_S
    while not true():
        assert time.monotonic() < last
        time.sleep(0.01)


def ended(line: socket.socket) -> bytes:
    """All that comes until the other end closes."""
    got = bytearray()
    with contextlib.suppress(ConnectionResetError):
        while more := line.recv(65_536):
            got += more
    line.close()
    return bytes(got)


def heard(line: socket.socket, word: bytes) -> None:
    """Read until a word has come."""
    got = bytearray()
    while word not in got:
        more = line.recv(65_536)
        assert more, "the stream has ended"
        got += more


def test_a_request_that_waits_for_a_disk_holds_up_no_stream(served: Served) -> None:
    line = served.stream()
    slow = threading.Thread(target=served.ask, args=("/slow",))
    slow.start()
    assert served.slow.wait(PATIENCE_S)
    served.hub.publish(Event("patch", 2, b"news"))
    heard(line, b"data: news")
    assert served.ask(body=b"hello") == (200, b"POST hello")
    served.go.set()
    slow.join()
    line.close()


def test_a_stream_gives_its_place_back_as_soon_as_its_client_hangs_up(served: Served) -> None:
    served.stream().close()
    until(lambda: served.hub.streams == 0)  # Nothing was published that would have found it out.


@pytest.mark.skipif(
    not hasattr(socket, "TCP_USER_TIMEOUT"), reason="this system can't cut a stalled connection"
)
def test_a_client_that_reads_nothing_is_cut_and_the_others_get_all(
    served: Served, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Linux cuts it, as tcp(7) tells of TCP_USER_TIMEOUT, or the server does."""
    monkeypatch.setattr(web.server.handler, "STALLED_AFTER_S", 4.0)
    silent = served.stream(room=4096)
    reading = served.stream()
    for number in range(20):
        served.hub.publish(BIG, BIG)
        served.hub.publish(Event("patch", number, f"number {number}.".encode()))
        heard(reading, f"number {number}.".encode())
    until(lambda: served.hub.streams == 1)
    reading.close()
    silent.close()


def test_whoever_is_slow_to_ask_is_told_so_and_keeps_nobody_waiting(
    served: Served, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(web.server.handler, "REQUEST_WITHIN_S", 3.0)
    halves = [
        b"GET / HT",
        b"GET / HTTP/1.1\r\nHost: lo",
        b"POST / HTTP/1.1\r\nContent-Length: 9\r\n\r\nx",
    ]
    lines = [served.call(half) for half in halves]
    assert served.ask(body=b"hello") == (200, b"POST hello")
    for line in lines:
        assert ended(line).startswith(b"HTTP/1.1 408 ")
    assert ended(served.call()) == b""


def test_one_too_many_takes_the_place_of_whoever_is_longest_about_asking(served: Served) -> None:
    first, *others = [served.call(b"GET ") for _ in range(MOST)]
    until(lambda: len(served.server.pool) == MOST)
    assert served.ask(body=b"hello") == (200, b"POST hello")
    assert ended(first) == b""
    for line in others:
        line.sendall(b"/ HTTP/1.1\r\nConnection: close\r\n\r\n")
        assert ended(line).endswith(b"\r\n\r\nGET ")


def test_one_too_many_is_refused_in_words_where_all_are_served(served: Served) -> None:
    lines = [served.stream() for _ in range(MOST_STREAMS)]
    slow = threading.Thread(target=served.ask, args=("/slow",))
    slow.start()
    assert served.slow.wait(PATIENCE_S)
    refused = ended(served.call())
    assert refused.startswith(b"HTTP/1.1 503 ")
    assert b"too many are connected" in refused
    lines.pop().close()
    until(lambda: served.hub.streams == MOST_STREAMS - 1)
    until(lambda: len(served.server.pool) < MOST)
    assert served.ask(body=b"hello") == (200, b"POST hello")
    served.go.set()
    slow.join()
    for line in lines:
        line.close()


def test_a_body_that_is_too_large_is_refused_unread(served: Served) -> None:
    largest = web.server.handler.LARGEST_BODY
    assert served.ask(body=b"x" * largest)[0] == 200
    assert served.ask(body=b"x" * (largest + 1))[0] == 413
    line = served.call(b"POST / HTTP/1.1\r\nTransfer-Encoding: chunked\r\n\r\n")
    line.sendall(b"%x\r\n" % (largest + 2) + b"x" * (largest + 2))
    assert ended(line).startswith(b"HTTP/1.1 413 ")


@pytest.mark.parametrize(
    "head",
    [
        b"POST / HTTP/1.1\r\nContent-Length: 3\r\nTransfer-Encoding: chunked\r\n\r\n",
        b"POST / HTTP/1.1\r\nContent-Length: 3\r\nContent-Length: 4\r\n\r\n",
        b"POST / HTTP/1.1\r\nTransfer-Encoding: gzip, chunked\r\n\r\n",
        b"POST / HTTP/1.1\r\nContent-Length: +3\r\n\r\n",
        b"POST / HTTP/1.1\r\nno header\r\n\r\n",
        b"GET /\r\n\r\n",
        b"\x16\x03\x01\x02\x00\r\n\r\n",
        b"GET / HTTP/3.0\r\n\r\n",
    ],
)
def test_a_request_that_can_be_read_in_two_ways_is_refused(served: Served, head: bytes) -> None:
    """RFC 9112 section 6.3 has a request with two lengths refused, or its connection closed."""
    assert ended(served.call(head)).startswith(b"HTTP/1.1 400 ")
    assert served.ask(body=b"hello") == (200, b"POST hello")
