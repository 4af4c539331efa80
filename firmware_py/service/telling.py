"""A process that goes on tells how it fares: the service manager, and whoever reads its record."""

from __future__ import annotations

import contextlib
import time
from collections.abc import Callable
from pathlib import Path

from firmware_py.health.notifying import Notifier
from firmware_py.health.record import AnyHealth, write

TELL_EVERY_S = 1.0


class Telling:
    """:meth:`tell` is called in each turn, and says something about once a second.

    So one that hangs falls silent: its record grows old, and the service manager's watchdog bites.
    """

    def __init__(
        self,
        path: Path,
        notifier: Notifier | None = None,
        now_s: Callable[[], float] = time.monotonic,
    ) -> None:
        self._path = path
        self._notifier = notifier or Notifier()
        self._now_s = now_s
        self._at_s = float("-inf")
        self._begun = False

    def tell(self, record: Callable[[], AnyHealth]) -> None:
        """Say that it goes on, and leave its record, if either is due."""
        now_s = self._now_s()
        if now_s - self._at_s < TELL_EVERY_S:
            return
        self._at_s = now_s
        write(self._path, record())
        self._notifier.tell("WATCHDOG=1" if self._begun else "READY=1")
        self._begun = True

    def stopping(self) -> None:
        """Say that it stops because it was told to; its last word must not outlive it."""
        self._notifier.tell("STOPPING=1")
        with contextlib.suppress(OSError):
            self._path.unlink(missing_ok=True)
