"""How streams wait in the server's loop: as greenlets, whom the follower's thread wakes."""

from __future__ import annotations

from collections import deque
from collections.abc import Callable
from typing import TypeVar, cast

import gevent
from gevent.event import Event
from gevent.threadpool import ThreadPool

T = TypeVar("T")


class Loop:
    """The loop of the thread that makes this, with ``workers`` threads beside it.

    Only greenlets of that loop may wait here. Ringing a bell and asking for one is for any
    thread: the bells that were rung are passed on to the loop, which is called once for many.
    """

    def __init__(self, workers: int) -> None:
        hub = gevent.get_hub()
        self._pool = ThreadPool(workers, hub)
        self._rung: deque[Event] = deque()
        self._call = hub.loop.async_(ref=False)
        self._call.start(self._pass_on)

    def bell(self) -> LoopBell:
        """A bell for one stream."""
        return LoopBell(self)

    def aside(self, work: Callable[[], T]) -> T:
        """Do it in one of the threads; the greenlet waits, and the loop does not."""
        return cast("T", self._pool.spawn(work).get())

    def ring(self, event: Event) -> None:
        """Have the loop set an event soon."""
        self._rung.append(event)
        if len(self._rung) == 1:  # Else it is called already, and empties all of it.
            self._call.send()

    def _pass_on(self) -> None:
        while self._rung:
            self._rung.popleft().set()


class LoopBell:
    """Rung from any thread; heard by one greenlet."""

    def __init__(self, loop: Loop) -> None:
        self._loop = loop
        self._event = Event()

    def set(self) -> None:
        """Ring."""
        self._loop.ring(self._event)

    def clear(self) -> None:
        """Be silent again."""
        self._event.clear()

    def wait(self, timeout: float | None = None) -> None:
        """Wait until rung, for so many seconds at most."""
        self._event.wait(timeout)
