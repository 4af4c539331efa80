"""What is done for the logbook now and then: its nightly backup, and looking for damage."""

from __future__ import annotations

import threading
import time
from collections.abc import Callable
from datetime import datetime

from sqlalchemy import Engine

from firmware_py.logbook.backing_up import back_up, is_due, rotate
from firmware_py.logbook.damage import damage_of
from firmware_py.logbook.errors import LogbookError
from firmware_py.logbook.files import sqlite_file

LOOK_EVERY_S = 300.0
LOOK_FOR_S = 1.0
TRY_AGAIN_S = 3_600.0


class Caretaker:
    """Looks after one logbook, in a thread of its own, so that nobody waits for a disk.

    ``remark`` hears what was done or failed; ``mend`` hears of damage that was found. A
    logbook on a server is its server's to look after.
    """

    def __init__(
        self,
        engine: Engine,
        remark: Callable[[str], None],
        mend: Callable[[str], None],
        *,
        now: Callable[[], datetime] = datetime.now,
        clock: Callable[[], float] = time.monotonic,
    ) -> None:
        self._engine = engine
        self._path = sqlite_file(engine)
        self._remark = remark
        self._mend = mend
        self._now = now
        self._clock = clock
        self._look_at = clock() + LOOK_EVERY_S  # It was looked at as it was opened.
        self._back_up_at = clock()
        self._busy = threading.Lock()

    def check(self) -> None:
        """Do what is due, if anything is; returns at once, and never raises."""
        if self._path is not None and self._busy.acquire(blocking=False):
            try:
                threading.Thread(target=self._work, name="logbook-care", daemon=True).start()
            except RuntimeError:  # No thread to be had now, or the interpreter is ending.
                self._busy.release()

    def wait(self, timeout: float = 10.0) -> bool:
        """Wait until what was begun is done; false if it takes too long."""
        done = self._busy.acquire(timeout=timeout)
        if done:
            self._busy.release()
        return done

    def _work(self) -> None:
        try:
            self._look_for_damage()
            self._back_up_if_due()
        except LogbookError:
            pass  # The keeper is closed: the engine stops, and there is nobody to tell.
        finally:
            self._busy.release()

    def _look_for_damage(self) -> None:
        if self._path is None or self._clock() < self._look_at:
            return
        self._look_at = self._clock() + LOOK_EVERY_S
        try:
            found = damage_of(self._path, LOOK_FOR_S)
        except OSError:
            return  # The writer meets the same trouble, and tells of it.
        if found is not None:
            self._mend(found)

    def _back_up_if_due(self) -> None:
        now = self._now()
        if self._path is None or self._clock() < self._back_up_at or not is_due(self._path, now):
            return
        self._back_up_at = self._clock() + TRY_AGAIN_S
        try:
            made = back_up(self._engine, now.date())
            gone = rotate(self._path, now.date())
        except (LogbookError, OSError) as trouble:
            self._remark(f"The nightly backup failed: {trouble}")
            return
        old = f", and {len(gone)} old backups were removed" if gone else ""
        self._remark(f"The logbook was backed up as {made.parent.name}/{made.name}{old}.")
