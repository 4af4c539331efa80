"""The engine's queue: any thread puts, one thread takes, and a flood can't fill the memory."""

from __future__ import annotations

import threading
from queue import SimpleQueue

from firmware_py.engine.ports import Flood, Item

ROOM = 50_000
"""Readings that may wait: some seconds of work for a small machine, a few megabytes of memory."""


class Inflow:
    """Puts onto ``queue``. Readings that find ``room`` items waiting are dropped and counted.

    Then a ``Flood`` is put, once: when the engine comes to it, all that was put before the drop
    has been judged, and ``take_drops`` says which contacts have to be read anew.
    """

    def __init__(self, queue: SimpleQueue[Item], room: int = ROOM) -> None:
        self._queue = queue
        self._room = room
        self._lock = threading.Lock()
        self._dropped: dict[str, int] = {}
        self.drops = 0

    def put_reading(self, t_us: int, contact: str, made: bool | None) -> None:
        """Queue a raw reading. Never waits."""
        if self._queue.qsize() < self._room:
            self._queue.put((t_us, contact, made))
        else:
            self._drop(contact)

    def take_drops(self) -> dict[str, int]:
        """How many readings of which contacts were dropped since this was last asked."""
        with self._lock:
            dropped, self._dropped = self._dropped, {}
            return dropped

    def _drop(self, contact: str) -> None:
        with self._lock:
            first = not self._dropped
            self._dropped[contact] = self._dropped.get(contact, 0) + 1
            self.drops += 1
            if first:
                self._queue.put(Flood())
