"""Keeps flashing lamps in step: one thread for all of them, asleep while none flashes."""

from __future__ import annotations

import time
from collections.abc import Callable
from enum import Enum
from threading import Condition, Thread
from typing import Protocol


class Rate(Enum):
    """Half a flash's period in nanoseconds: on as long as off.

    IEC 60073's two bands are 0.4 to 0.8 Hz and 1.4 to 2.8 Hz (from secondary sources).
    """

    SLOW = 714_285_714
    """0.7 Hz, for a next step."""
    FAST = 250_000_000
    """2 Hz, for a violation."""


class Flashes(Protocol):
    """A lamp that can be lit or dark; failing is its own affair."""

    def light(self, lit: bool) -> None:
        """Light it or darken it. Never raises."""


class _Group:
    """The lamps of one rate, and when their common rhythm began."""

    __slots__ = ("half_ns", "lamps", "lit", "start_ns")

    def __init__(self, half_ns: int) -> None:
        self.half_ns = half_ns
        self.lamps: list[Flashes] = []
        self.start_ns = 0
        self.lit = False

    def lit_at(self, now_ns: int) -> bool:
        return (now_ns - self.start_ns) // self.half_ns % 2 == 0

    def next_ns(self, now_ns: int) -> int:
        return self.start_ns + ((now_ns - self.start_ns) // self.half_ns + 1) * self.half_ns


class Flasher:
    """Flashes lamps at two rates; all lamps of one rate go on and off together.

    The first lamp of a rate lights at once; one that joins takes up the others' rhythm. A lamp
    that was removed is not touched again once ``remove`` has returned. ``clock_ns`` gives
    monotonic nanoseconds.
    """

    def __init__(self, clock_ns: Callable[[], int] = time.monotonic_ns) -> None:
        self._clock_ns = clock_ns
        self._groups = {rate: _Group(rate.value) for rate in Rate}
        self._changed = Condition()
        self._thread: Thread | None = None
        self._closed = False
        self._joined = False

    def add(self, lamp: Flashes, rate: Rate) -> None:
        """Begin to flash a lamp; it is written at once, in the caller's thread."""
        with self._changed:
            group = self._groups[rate]
            if lamp in group.lamps or self._closed:
                return
            now_ns = self._clock_ns()
            if not group.lamps:
                group.start_ns = now_ns
                group.lit = True
            group.lamps.append(lamp)
            lamp.light(group.lit)
            self._joined = True
            self._start()
            self._changed.notify()

    def remove(self, lamp: Flashes) -> None:
        """Flash a lamp no more; its level stays as it is."""
        with self._changed:
            for group in self._groups.values():
                if lamp in group.lamps:
                    group.lamps.remove(lamp)

    def rewrite(self, lamp: Flashes) -> None:
        """Write a lamp's level once more, if it flashes."""
        with self._changed:
            for group in self._groups.values():
                if lamp in group.lamps:
                    lamp.light(group.lit)

    def step(self, now_ns: int) -> int | None:
        """Turn over the groups that are due; return when the next is due, in nanoseconds.

        ``None`` if no lamp flashes. The flasher's thread calls it, and a test may.
        """
        due = None
        for group in self._groups.values():
            with self._changed:
                lamps = [*group.lamps]
                lit = group.lit_at(now_ns)
                turned = lit is not group.lit
                group.lit = lit
            if not lamps:
                continue
            next_ns = group.next_ns(now_ns)
            due = next_ns if due is None else min(due, next_ns)
            for lamp in lamps if turned else ():
                # One at a time, so that a slow chip keeps nobody waiting for longer than one write.
                with self._changed:
                    if lamp in group.lamps:
                        lamp.light(lit)
        return due

    def close(self) -> None:
        """Stop the thread; no lamp is written after this."""
        with self._changed:
            self._closed = True
            for group in self._groups.values():
                group.lamps.clear()
            self._changed.notify()
            thread, self._thread = self._thread, None
        if thread is not None:
            thread.join(timeout=5.0)

    def _start(self) -> None:
        if self._thread is None:
            self._thread = Thread(target=self._run, name="flasher", daemon=True)
            self._thread.start()

    def _run(self) -> None:
        while True:
            due_ns = self.step(self._clock_ns())
            with self._changed:
                if self._closed:
                    return
                if self._joined:
                    # A lamp came while the groups were looked at; it may be due first.
                    self._joined = False
                    continue
                wait_ns = None if due_ns is None else max(0, due_ns - self._clock_ns())
                self._changed.wait(None if wait_ns is None else wait_ns / 1_000_000_000)
