"""Many watchers of the screen in one thread, each noting which entries reached it when."""

from __future__ import annotations

import contextlib
import json
import re
import selectors
import socket
import threading
import time
from collections.abc import Callable
from dataclasses import dataclass, field

PATH = "/api/events"
CHUNK = 256 * 1024
OPEN_WITHIN_S = 20.0
FRAME = re.compile(rb"event: ([a-z]+)\nid: (\d+)\ndata: ([^\n]*)\n\n")

Heard = list[tuple[int, int]]
"""When (nanoseconds of the monotonic clock) and up to which entry, oldest first."""


@dataclass(slots=True)
class Watcher:
    """One open stream. ``began`` says that it was given its first state.

    ``frames`` is what it was given, kinds and data, where that is kept.
    """

    line: socket.socket
    keeps: bool = False
    began: bool = False
    ended: bool = False
    rest: bytearray = field(default_factory=bytearray)
    heard: Heard = field(default_factory=list)
    frames: list[tuple[bytes, bytes]] = field(default_factory=list)

    def take(self, data: bytes, now_ns: int) -> None:
        """Note every whole frame; what is not whole yet is kept for later."""
        self.rest += data
        end = 0
        for frame in FRAME.finditer(self.rest):
            self.began = self.began or frame[1] == b"state"
            self.heard.append((now_ns, int(frame[2])))
            if self.keeps:
                self.frames.append((frame[1], frame[3]))
            end = frame.end()
        del self.rest[:end]

    def entries(self) -> list[int]:
        """The numbers of the entries that it was given, in their order."""
        kept = [json.loads(data) for kind, data in self.frames if kind in {b"patch", b"entries"}]
        return [entry["id"] for one in kept for entry in one["entries"]]


def called(port: int, *, room: int | None = None) -> socket.socket:
    """A connection on which a stream was asked for; ``room`` narrows what it takes unread."""
    line = socket.socket()
    if room is not None:
        line.setsockopt(socket.SOL_SOCKET, socket.SO_RCVBUF, room)
    line.settimeout(OPEN_WITHIN_S)
    line.connect(("127.0.0.1", port))
    line.sendall(f"GET {PATH} HTTP/1.1\r\nHost: localhost\r\n\r\n".encode())
    return line


class Crowd:
    """So many watchers, reading until the crowd is left."""

    def __init__(self, port: int, count: int, *, keeps: bool = False) -> None:
        self.watchers = [Watcher(called(port), keeps) for _ in range(count)]
        self._selector = selectors.DefaultSelector()
        for watcher in self.watchers:
            watcher.line.setblocking(False)
            self._selector.register(watcher.line, selectors.EVENT_READ, watcher)
        self._leaving = threading.Event()
        self._thread = threading.Thread(target=self._read, daemon=True)
        self._thread.start()

    def settle(self) -> None:
        """Wait until each has its first state. Raises ``TimeoutError``."""
        self._wait("were served", lambda watcher: watcher.began)

    def hear(self, entry: int) -> None:
        """Wait until each has had an entry. Raises ``TimeoutError``."""
        wanted = f"have had entry {entry}"
        self._wait(wanted, lambda watcher: bool(watcher.heard) and watcher.heard[-1][1] >= entry)

    def end(self) -> None:
        """Wait until each stream has been ended by the screen. Raises ``TimeoutError``."""
        self._wait("were ended", lambda watcher: watcher.ended)

    def _wait(self, wanted: str, true: Callable[[Watcher], bool]) -> None:
        last = time.monotonic() + OPEN_WITHIN_S
        while not all(true(watcher) for watcher in self.watchers):
            if time.monotonic() > last:
                there = sum(true(watcher) for watcher in self.watchers)
                raise TimeoutError(f"only {there} of {len(self.watchers)} watchers {wanted}")
            time.sleep(0.02)

    def leave(self) -> None:
        """Hang up, all at once."""
        self._leaving.set()
        self._thread.join()
        for watcher in self.watchers:
            watcher.line.close()
        self._selector.close()

    def _read(self) -> None:
        while not self._leaving.is_set():
            for key, _ in self._selector.select(0.1):
                watcher: Watcher = key.data
                data = b""
                with contextlib.suppress(OSError):
                    data = watcher.line.recv(CHUNK)
                if data:
                    watcher.take(data, time.monotonic_ns())
                else:
                    watcher.ended = True
                    self._selector.unregister(watcher.line)
