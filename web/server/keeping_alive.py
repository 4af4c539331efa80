"""What the screen tells the service manager that started it, if one has."""

from __future__ import annotations

from collections.abc import Callable
from typing import Protocol

import gevent

from web.server.loop import Loop

FEED_EVERY_S = 2.0


class Manager(Protocol):
    """The service manager."""

    @property
    def feed_every_s(self) -> float | None:
        """How often its watchdog wants to be fed; ``None`` if it has none."""

    def tell(self, *words: str) -> bool:
        """Tell it ``KEY=value`` words."""


def keep_alive(manager: Manager, loop: Loop, follows: Callable[[], bool], url: str) -> None:
    """Say that the screen is there, and go on saying so for as long as it is.

    Each word has been through the loop and one of its threads, and is not said once nobody
    ``follows`` the logbook: a screen that hangs in any of the three is killed and begun anew.
    """
    manager.tell("READY=1", f"STATUS=Serving {url}")
    if manager.feed_every_s is not None:
        gevent.spawn(_feed, manager, loop, follows, min(FEED_EVERY_S, manager.feed_every_s))


def _feed(manager: Manager, loop: Loop, follows: Callable[[], bool], every_s: float) -> None:
    while loop.aside(follows):
        manager.tell("WATCHDOG=1")
        gevent.sleep(every_s)
