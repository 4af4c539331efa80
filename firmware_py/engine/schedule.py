"""What is scheduled in human time: the foreman's answer, self-checks, the session's end.

APScheduler runs it, on a clock that the wall's steps don't reach.
"""

from __future__ import annotations

import contextlib
import logging
from collections.abc import Callable
from datetime import datetime, timedelta

from apscheduler.executors.pool import ThreadPoolExecutor
from apscheduler.jobstores.base import JobLookupError
from apscheduler.schedulers.background import BackgroundScheduler
from apscheduler.triggers.base import BaseTrigger

from firmware_py.engine.clock import SteadyZone


class Regularly(BaseTrigger):  # type: ignore[misc]  # APScheduler ships no types
    """Fires at regular intervals from now on.

    APScheduler's own interval goes through POSIX timestamps, and so back to the wall's clock.
    """

    def __init__(self, interval: timedelta) -> None:
        self._interval = interval

    def get_next_fire_time(self, previous: datetime | None, now: datetime) -> datetime:
        """The time after ``previous``, or after ``now`` where the last is long past."""
        if previous is None or now - previous > 2 * self._interval:
            return now + self._interval
        return previous + self._interval


class Schedule:
    """Jobs at a time from now, or at regular intervals; each must only queue something."""

    def __init__(self) -> None:
        logging.getLogger("apscheduler").setLevel(logging.WARNING)
        self._zone = SteadyZone()
        self._scheduler = BackgroundScheduler(
            timezone=self._zone,
            executors={"default": ThreadPoolExecutor(1)},
            # However late a busy machine starts a job, it is still done. APScheduler judges
            # lateness by the wall's clock, on which a step of an hour would lose every job.
            job_defaults={"coalesce": True, "misfire_grace_time": None},
        )

    def start(self) -> None:
        """Begin to serve what is scheduled."""
        self._scheduler.start()

    def stop(self) -> None:
        """Drop what is scheduled."""
        if self._scheduler.running:
            # A shutdown in the moment in which a job begins would end in a traceback.
            self._scheduler.pause()
            self._scheduler.remove_all_jobs()
            self._scheduler.shutdown(wait=False)

    def after(self, name: str, seconds: float, act: Callable[[], None]) -> None:
        """Do ``act`` once, ``seconds`` from now; a job of the same name is replaced."""
        at = datetime.now(self._zone) + timedelta(seconds=seconds)
        self._scheduler.add_job(act, "date", run_date=at, id=name, replace_existing=True)

    def every(self, name: str, seconds: float, act: Callable[[], None]) -> None:
        """Do ``act`` every so many seconds."""
        trigger = Regularly(timedelta(seconds=seconds))
        self._scheduler.add_job(act, trigger, id=name, replace_existing=True)

    def cancel(self, name: str) -> None:
        """Forget a job, if it still waits; it may be about to begin in this very moment."""
        with contextlib.suppress(JobLookupError):
            self._scheduler.remove_job(name)
