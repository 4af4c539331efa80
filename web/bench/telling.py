"""Tells bench pages what has changed; while nobody looks at one, nothing is read or kept."""

from __future__ import annotations

import logging

import msgspec

from firmware_py.logbook.errors import LogbookError
from firmware_py.logbook.reading import Reader
from web.bench.edges import Traces
from web.bench.view import View, bench_view
from web.live.changes import difference
from web.live.hub import Event, Hub
from web.live.log import Followed

log = logging.getLogger(__name__)

TOPIC = "bench"
AT_FIRST = 4_000
"""So many of the session's last readings are looked through when somebody comes to the bench."""
BATCH = 1_000
REST_S = 0.25
"""A contact that chatters is drawn no oftener: nobody sees more."""


class Bench:
    """Draws the bench for whoever watches it. Only the follower's thread may call ``look``."""

    def __init__(self, hub: Hub, reader: Reader) -> None:
        self._hub = hub
        self._reader = reader
        self._traces: Traces | None = None
        self._session: tuple[int, int] | None = None
        self._view: View | None = None
        self._owing = False
        self._due = 0.0

    def look(self, followed: Followed | None, now: float, *, changed: bool, live: bool) -> None:
        """Publish what has changed since the last look, at most every ``REST_S`` seconds."""
        if followed is None or not self._hub.watched(TOPIC):
            self._rest()
            return
        self._owing = self._owing or changed or self._view is None
        if not self._owing or now < self._due:
            return
        self._due = now + REST_S
        try:
            traces = self._read(followed)
        except LogbookError:
            return  # The page's head says so; what is owed is drawn when it can be read again.
        self._owing = False
        self._publish(followed, bench_view(followed, traces, live=live))

    def _rest(self) -> None:
        if self._session is not None:
            self._traces = self._session = self._view = None
            self._hub.lapse(TOPIC)

    def _read(self, followed: Followed) -> Traces:
        session = (followed.session.id, followed.session.began_wall_us)
        traces = self._traces
        if traces is None or session != self._session:
            traces = Traces(followed.plan.layout)
            traces.take(self._reader.newest_readings(followed.session.id, AT_FIRST))
            self._traces, self._session, self._view = traces, session, None
            return traces
        while True:
            batch = self._reader.readings(followed.session.id, traces.last_id, BATCH)
            traces.take(batch)
            if len(batch) < BATCH:
                return traces

    def _publish(self, followed: Followed, view: View) -> None:
        before, self._view = self._view, view
        state = Event("bench", followed.last_id, msgspec.json.encode(view))
        event = state
        if before is not None:
            patch = difference(before, view)
            if not patch:
                return
            event = Event("bench-patch", followed.last_id, msgspec.json.encode(patch))
        self._hub.publish(event, state, TOPIC)
