"""The two clocks: a steady one that every deadline uses, and the wall's, which may step."""

from __future__ import annotations

import time
from datetime import UTC, datetime, timedelta, tzinfo


def steady_us() -> int:
    """Microseconds of the kernel's monotonic clock, as GPIO edges are stamped with."""
    return time.monotonic_ns() // 1000


def wall_us() -> int:
    """Microseconds since 1970 UTC by the wall clock."""
    return time.time_ns() // 1000


class SteadyZone(tzinfo):
    """A time zone in which the time of day never steps.

    APScheduler asks for ``datetime.now(zone)``. In this zone the answer is the wall clock's
    time at the zone's making plus what the monotonic clock has counted since, so that setting
    the wall clock neither fires nor loses what is due in a number of seconds.
    """

    def __init__(self) -> None:
        self._began = datetime.now(UTC).replace(tzinfo=None)
        self._began_us = steady_us()

    def fromutc(self, dt: datetime) -> datetime:
        """The steady time, whatever UTC time is asked for: it is always now that is asked."""
        passed = timedelta(microseconds=steady_us() - self._began_us)
        return (self._began + passed).replace(tzinfo=self)

    def utcoffset(self, dt: datetime | None) -> timedelta:
        """None to speak of."""
        return timedelta(0)

    def dst(self, dt: datetime | None) -> timedelta:
        """None."""
        return timedelta(0)

    def tzname(self, dt: datetime | None) -> str:
        """The zone's name."""
        return "steady"
