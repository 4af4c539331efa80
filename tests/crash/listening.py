"""A page's end of the event stream: keeps every entry that was delivered, and reconnects."""

from __future__ import annotations

import http.client
import json
import threading
import time
from collections.abc import Callable, Iterator
from typing import Any, NamedTuple

PATIENCE_S = 8.0
"""The screen says something at least every few seconds; a stream this quiet is dead."""

Line = dict[str, Any]


class Delivered(NamedTuple):
    """An entry as a page got it; ``late_s`` is how long after the engine wrote it down."""

    id: int
    line: Line
    late_s: float


class Frame(NamedTuple):
    """One server-sent event, whole."""

    kind: str
    id: str
    data: str


def frames_of(lines: Iterator[bytes]) -> Iterator[Frame]:
    """The events of a stream; one that was cut off before its empty line was not delivered."""
    fields: dict[str, str] = {}
    for line in lines:
        if not line.endswith(b"\n"):
            return
        text = line.decode().rstrip("\r\n")
        if text and not text.startswith(":"):
            name, _, value = text.partition(":")
            fields[name] = value.removeprefix(" ")
        elif not text and "data" in fields:
            yield Frame(fields.get("event", "message"), fields.get("id", ""), fields["data"])
            fields = {}
        elif not text:
            fields = {}


class Listener:
    """One page, as a browser's event source behaves: it comes back with the last id it got.

    Its first connection asks for everything from the log's beginning. With ``keep`` it remembers
    what it got; ``hear`` is told of each entry, in the listener's own thread.
    """

    def __init__(
        self, port: int, *, keep: bool = True, hear: Callable[[Delivered], None] | None = None
    ) -> None:
        self._port = port
        self._keep = keep
        self._hear = hear
        self._lock = threading.Lock()
        self._delivered: list[Delivered] = []
        self._acknowledged: set[int] = set()
        self._violations: set[int] = set()
        self._last_id = "0"
        self._stop = threading.Event()
        self._thread = threading.Thread(target=self._run, name="listener", daemon=True)
        self.connections = 0
        self.count = 0
        self.garbled: str | None = None

    def start(self) -> None:
        """Begin to listen."""
        self._thread.start()

    def stop(self) -> None:
        """Listen no more."""
        self._stop.set()
        self._thread.join(PATIENCE_S + 2)

    def delivered(self) -> list[Delivered]:
        """Every entry so far, in the order in which they came."""
        with self._lock:
            return list(self._delivered)

    def shown(self) -> tuple[set[int], set[int]]:
        """The numbers of violations that were shown, and of those shown as acknowledged."""
        with self._lock:
            return set(self._violations), set(self._acknowledged)

    def _run(self) -> None:
        while not self._stop.is_set():
            try:
                self._listen()
            except (OSError, http.client.HTTPException):
                pass  # The screen is down, or went down: that is what this harness does to it.
            except (ValueError, KeyError, TypeError) as wrong:
                self.garbled = repr(wrong)
                return
            self._stop.wait(0.05)

    def _listen(self) -> None:
        connection = http.client.HTTPConnection("127.0.0.1", self._port, timeout=PATIENCE_S)
        try:
            connection.request("GET", "/api/events", headers={"Last-Event-ID": self._last_id})
            response = connection.getresponse()
            if response.status != 200:
                return
            self.connections += 1
            for frame in frames_of(iter(response.readline, b"")):
                self._take(frame)
                if self._stop.is_set():
                    return
        finally:
            connection.close()

    def _take(self, frame: Frame) -> None:
        now_us = time.time_ns() // 1_000
        data = json.loads(frame.data)
        for entry in data.get("entries", ()):
            late_s = (now_us - entry["wall_us"]) / 1_000_000
            self._take_entry(Delivered(entry["id"], entry["line"], late_s))
        with self._lock:
            for number, violation in (data.get("violations") or {}).items():
                if violation:
                    self._violations.add(int(number))
                    if violation["acknowledged"]:
                        self._acknowledged.add(int(number))
        self._last_id = frame.id or self._last_id

    def _take_entry(self, entry: Delivered) -> None:
        self.count += 1
        if self._keep:
            with self._lock:
                self._delivered.append(entry)
        if self._hear is not None:
            self._hear(entry)
