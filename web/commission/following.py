"""Follows the sitting for whoever looks at it, in a thread that begins with the first of them."""

from __future__ import annotations

import logging
import threading
import time

import msgspec
from sqlalchemy import Engine

from firmware_py.commissioning.showing import About, Shown
from firmware_py.logbook.commissioning import mark, records
from firmware_py.logbook.errors import LogbookError
from firmware_py.logbook.reading import Reader
from firmware_py.logbook.sitting import SittingRecord, newest_sitting
from web.commission.heart import Heart
from web.commission.views import SAYS, View, read_shown, sitting_view, summary
from web.live.hub import Event, Hub

log = logging.getLogger(__name__)

TOPIC = "commission"
POLL_S = 0.02
"""While somebody looks. A contact's edge is to be on the page before its hand is away."""
IDLE_S = 0.25
BEAT_S = 2.0
FIRST_S = 5.0
MOST_RECORDS = 12
OWN_TROUBLE = "the screen met trouble of its own; its log says what"


class Following:
    """Publishes ``commission`` with the whole view at each change, and ``beat`` in between."""

    def __init__(self, engine: Engine, reader: Reader, hub: Hub) -> None:
        self._engine = engine
        self._reader = reader
        self._hub = hub
        self._heart = Heart()
        self._lock = threading.Lock()
        self._thread: threading.Thread | None = None
        self._drawn = threading.Event()
        self._version = -1
        self._sitting: SittingRecord | None = None
        self._read: tuple[About, Shown] | None = None
        self._records: list[View] = []
        self._mark: tuple[int, int] | None = None
        self._view: View | None = None
        self._beat_at = 0.0
        self._trouble = ""

    def view(self) -> View | None:
        """The view as it was last drawn; ``None`` if the logbook could not be looked at yet."""
        self.begin()
        self._drawn.wait(FIRST_S)
        return self._view

    def begin(self) -> None:
        """Begin to follow, if that was not done yet."""
        with self._lock:
            if self._thread is None:
                self._thread = threading.Thread(target=self._run, name="commission", daemon=True)
                self._thread.start()

    def _run(self) -> None:
        while not self._hub.closed:
            self.look(time.monotonic())
            self._drawn.set()
            hurries = self._hub.watched(TOPIC) and not self._trouble
            time.sleep(POLL_S if hurries else IDLE_S)

    def look(self, now_s: float) -> None:
        """Look once, and publish what is news. One thread's."""
        try:
            self._read_on(now_s)
            self._trouble = ""
        except LogbookError as error:
            self._version, self._trouble = -1, str(error)
        except Exception:
            if self._trouble != OWN_TROUBLE:
                log.exception("the sitting could not be read")
            self._version, self._trouble = -1, OWN_TROUBLE
        view = self._draw(now_s)
        if view != self._view:
            self._view = view
            event = Event(TOPIC, 0, msgspec.json.encode(view))
            self._hub.publish(event, event, TOPIC)
            self._beat_at = now_s
        elif now_s - self._beat_at >= BEAT_S:
            self._hub.publish(Event("beat", 0, b"{}"), topic=TOPIC)
            self._beat_at = now_s

    def _read_on(self, now_s: float) -> None:
        version = self._reader.version()
        if version == self._version:
            return
        sitting = newest_sitting(self._engine)
        self._heart.note(sitting, now_s)
        if sitting != self._sitting or self._view is None:
            self._read = read_shown(sitting)
        self._sitting = sitting
        marked = mark(self._engine)
        if marked != self._mark:
            now_us = time.time_ns() // 1000
            found = records(self._engine, limit=MOST_RECORDS)
            self._records = [summary(one, now_us) for one in found]
        self._mark = marked
        self._version = version

    def _draw(self, now_s: float) -> View:
        word = self._heart.word(self._read[1] if self._read else None, now_s)
        if self._trouble:
            word = "unread"
        sitting = None
        if self._sitting is not None and self._read is not None:
            sitting = sitting_view(self._sitting, *self._read)
        return {
            "word": word,
            "says": f"{SAYS[word]} {self._trouble}".strip(),
            "sitting": sitting,
            "records": self._records,
        }
