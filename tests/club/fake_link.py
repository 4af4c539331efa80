"""A link without a broker: what comes is put in, and what is sent is kept."""

from __future__ import annotations

import queue
import threading

from firmware_py.club.link import Came


class FakeLink:
    def __init__(self) -> None:
        self.came: queue.Queue[Came] = queue.Queue()
        self.sent: list[tuple[str, bytes]] = []
        self.connects = 1
        self.ready = True
        self.news = threading.Event()

    def send(
        self, topic: str, payload: bytes, *, retain: bool = False, lasts_s: int | None = None
    ) -> bool:
        del retain, lasts_s
        self.sent.append((topic, payload))
        return True

    def sent_all(self, timeout_s: float) -> bool:
        del timeout_s
        return True

    def take(self, topic: str, payload: bytes, *, retained: bool = False) -> None:
        self.came.put(Came(topic, payload, retained))
