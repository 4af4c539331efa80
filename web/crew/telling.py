"""Tells every job's own topic what has changed on its page, and that the screen still lives."""

from __future__ import annotations

import logging
from collections.abc import Mapping
from typing import Any

import msgspec
from sqlalchemy import Engine

from firmware_py.logbook.errors import LogbookError
from firmware_py.logbook.screen.jobs import Job
from firmware_py.logbook.screen.ticks import Step, Tick, make_tick
from web.crew.progress import worked_guesses
from web.crew.scene import Evening
from web.crew.view import View, evening_of, job_view
from web.live.hub import Event, Hub
from web.live.log import Followed

log = logging.getLogger(__name__)
BEAT_S = 2.0


def topic_of(job_id: int) -> str:
    """The topic of a job's page."""
    return f"job:{job_id}"


class Crews:
    """Draws the jobs' pages. Only the follower's thread may call ``draw`` and ``beat``."""

    def __init__(self, hub: Hub, engine: Engine) -> None:
        self._hub = hub
        self._engine = engine
        self._views: dict[int, View] = {}
        self._evening: object = None
        self._beat_at = 0.0
        self._clock: tuple[int | None, float] = (None, 0.0)

    def clock_us(self, now_s: float) -> int | None:
        """Session time at the monotonic time ``now_s``; any thread may ask."""
        at_us, at_s = self._clock
        return None if at_us is None else at_us + round((now_s - at_s) * 1e6)

    def draw(self, followed: Followed | None, head: Mapping[str, Any]) -> None:
        """Publish each job whose page has changed. A job's streams end with its evening."""
        evening_now = (followed.session.layout_name, followed.round_id) if followed else None
        if evening_now != self._evening:
            self._end(list(self._views))
            self._evening = evening_now
        if followed is None:
            return
        evening = evening_of(followed, head)
        for job in followed.jobs:
            if not job.dropped:
                self._draw_job(job, evening)
        known = evening.jobs
        gone = [one for one in self._views if one not in known or known[one].dropped]
        self._end(gone)
        self._keep_guesses(followed, evening)

    def beat(self, clock_us: int | None, now_s: float) -> None:
        """Every two seconds tell every job's page the time, so that silence means something."""
        self._clock = clock_us, now_s
        if now_s - self._beat_at < BEAT_S:
            return
        self._beat_at = now_s
        for job_id in self._views:
            self._hub.publish(beat_of(clock_us), topic=topic_of(job_id))

    def _draw_job(self, job: Job, evening: Evening) -> None:
        topic = topic_of(job.id)
        try:
            view = job_view(job, evening)
        except Exception:
            log.exception("the page of job %s can't be drawn", job.id)
            self._views.pop(job.id, None)
            self._hub.forget(topic)  # No page is better than one that is not true any more.
            return
        if view != self._views.get(job.id):
            self._views[job.id] = view
            event = Event("job", evening.board.last_id, msgspec.json.encode(view))
            self._hub.publish(event, event, topic)

    def _end(self, job_ids: list[int]) -> None:
        for job_id in job_ids:
            del self._views[job_id]
            self._hub.forget(topic_of(job_id))

    def _keep_guesses(self, followed: Followed, evening: Evening) -> None:
        """Once a train is in, the crew that was taken to be at work is ticked as being there.

        So it stays known after the round has ended, whatever jobs are made or changed later.
        """
        if not evening.live:
            return
        for (job_id, stop), at in worked_guesses(evening.progress):
            began_wall_us = followed.session.began_wall_us + at.began_us
            tick = Tick(job_id, stop, Step.HERE, at.began_id, began_wall_us)
            try:
                make_tick(self._engine, followed.session.id, tick)
            except LogbookError:
                log.warning("a crew's place could not be kept; the next look tries again")


def beat_of(clock_us: int | None) -> Event:
    """The event that tells a page the session's time."""
    return Event("beat", 0, msgspec.json.encode({"clock_us": clock_us}))
