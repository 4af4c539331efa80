"""Hands at the boxes' contacts and a host at the board, while faults come and go."""

from __future__ import annotations

import contextlib
import threading
import time
from random import Random

from sqlalchemy import select

from club.fleet import Fleet, Host, Node
from firmware_py.gathering.names import on_board
from firmware_py.logbook.errors import LogbookError
from firmware_py.logbook.requests import leave_hand, leave_order
from firmware_py.logbook.tables import REQUEST

CONTACTS = ("hasp", "normal", "reverse", "detector")


def wall_us() -> int:
    """The wall clock: microseconds since 1970 UTC."""
    return time.time_ns() // 1_000


class Hands:
    """Moves contacts of every box, about ten times a second at each, until it is closed."""

    def __init__(self, fleet: Fleet, seed: int, every_s: float = 0.1) -> None:
        self._fleet = fleet
        self._every_s = every_s
        self._stop = threading.Event()
        self._idle = threading.Event()
        self._threads = [
            threading.Thread(target=self._work, args=(node, Random(seed + at)), daemon=True)
            for at, node in enumerate(fleet.nodes)
        ]
        self.left = 0

    def start(self) -> None:
        for thread in self._threads:
            thread.start()

    def rest(self) -> None:
        """Move nothing until told to go on."""
        self._idle.set()

    def go_on(self) -> None:
        self._idle.clear()

    def close(self) -> None:
        self._stop.set()
        for thread in self._threads:
            thread.join()

    def _work(self, node: Node, random: Random) -> None:
        while not self._stop.wait(random.uniform(0.5, 1.5) * self._every_s):
            if self._idle.is_set():
                continue
            contact = f"mill-switch.{random.choice(CONTACTS)}"
            with contextlib.suppress(LogbookError):
                ahead_us = int(node.clock.read_text()) * 1_000_000
                leave_hand(node.database, contact, random.random() < 0.5, wall_us() + ahead_us)
                self.left += 1


def ask_from_board(board: Host, node: str, random: Random) -> int | None:
    """The host asks something of a box, as a page does; ``None`` where that can't be left."""
    command = random.choice(("ask", "release", "hand-back", "work-done"))
    with contextlib.suppress(LogbookError):
        return leave_order(board.database, command, spur=on_board(node, "mill"), wall_us=wall_us())
    return None


def unanswered(board: Host) -> int:
    """How many of the board's requests wait for an answer."""
    wanted = select(REQUEST.c.id).where(REQUEST.c.answered_wall_us.is_(None))
    with board.database.connect() as connection:
        return len(connection.execute(wanted).all())
