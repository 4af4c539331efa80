"""The one thread that waits for edges on all chips, and tells of them."""

from __future__ import annotations

import contextlib
import logging
import os
import select
import time
from collections.abc import Callable
from threading import Event, RLock, Thread

from firmware_py.pins.bank import Bank, Change, Part
from firmware_py.pins.telling import Teller
from firmware_py.pins.trouble import Tally, Trouble

log = logging.getLogger(__name__)


class Reader:
    """Blocks in ``poll`` on all requests and one descriptor that wakes it.

    While nothing happens it wakes only for the resync, every ``resync_s`` seconds, and not at all
    while no line is in use. What it calls may raise: that is counted and logged, no more.
    """

    def __init__(
        self, resync_s: float = 1.0, clock_ns: Callable[[], int] = time.monotonic_ns
    ) -> None:
        self._resync_ns = int(resync_s * 1_000_000_000)
        self._clock_ns = clock_ns
        self._banks: list[Bank] = []
        self._lock = RLock()
        self._due_ns = 0
        self._stop = Event()
        self._wake_fd = os.eventfd(0, os.EFD_CLOEXEC | os.EFD_NONBLOCK)
        self._teller = Teller("pin callbacks")
        self._turns = Tally("pin thread")
        self._seen: list[int] | None = None
        self._waiting: dict[int, tuple[Bank, Part]] = {}
        self._poll = select.poll()
        self._thread = Thread(target=self._run, name="pins", daemon=True)

    @property
    def alive(self) -> bool:
        """Whether edges are still being read; true before the first line is in use."""
        return not self._stop.is_set() and (self._thread.is_alive() or not self._banks)

    def follow(self, bank: Bank) -> None:
        """Begin to follow a chip's lines."""
        with self._lock:
            self._banks = [*self._banks, bank]
            if not self._thread.is_alive() and not self._stop.is_set():
                self._due_ns = self._clock_ns() + self._resync_ns
                self._thread.start()
        self.wake()

    def wake(self, resync: bool = False) -> None:
        """Have the thread look at the requests anew, and at once at all levels if asked."""
        with self._lock:
            if resync:
                self._due_ns = 0
            if not self._stop.is_set():
                os.eventfd_write(self._wake_fd, 1)

    def close(self) -> None:
        """Stop the thread. May be called twice, and from a callback."""
        with self._lock:
            if self._stop.is_set():
                return
            self._stop.set()
            os.eventfd_write(self._wake_fd, 1)
        # It may never have been started, or be the one that closes.
        with contextlib.suppress(RuntimeError):
            self._thread.join(timeout=5.0)
        if not self._thread.is_alive():
            os.close(self._wake_fd)

    def troubles(self) -> tuple[Trouble, ...]:
        """Report what went wrong in callbacks and in the thread itself."""
        return (*self._teller.troubles(), *self._turns.report())

    def _run(self) -> None:
        while not self._stop.is_set():
            try:
                self._turn()
            except Exception as error:
                # Every input would go silent with the thread, so it goes on whatever happened;
                # the pause keeps a lasting failure from taking all of a core.
                self._turns.failed(error)
                log.exception("the pin thread stumbled")
                self._stop.wait(0.1)

    def _turn(self) -> None:
        if self._seen != [bank.requested for bank in self._banks]:
            self._look_anew()
        changes: list[Change] = []
        try:
            for fd, what in self._wait():
                if fd == self._wake_fd:
                    os.eventfd_read(self._wake_fd)
                else:
                    changes += _answer(*self._waiting[fd], what)
            if self._banks and self._clock_ns() >= self._due_ns:
                self._due_ns = self._clock_ns() + self._resync_ns
                for bank in self._banks:
                    changes += bank.resync()
        finally:
            # The banks count these as told, so told they must be.
            self._teller.tell(changes)

    def _look_anew(self) -> None:
        """Make ready what is waited on: it is the same from edge to edge, so it is kept."""
        banks = self._banks
        # The counts first: a request made meanwhile is then looked at in the next turn.
        self._seen = [bank.requested for bank in banks]
        self._waiting = {part.request.fd: (bank, part) for bank in banks for part in bank.parts()}
        self._poll = select.poll()
        for fd in (self._wake_fd, *self._waiting):
            self._poll.register(fd, select.POLLIN)

    def _wait(self) -> list[tuple[int, int]]:
        timeout_ms = None
        if self._banks:
            timeout_ms = max(0, (self._due_ns - self._clock_ns()) // 1_000_000 + 1)
        return self._poll.poll(timeout_ms)


def _answer(bank: Bank, part: Part, what: int) -> list[Change]:
    if what & select.POLLIN:
        return bank.drain(part)
    return bank.lose("the chip went away") if part in bank.parts() else []
