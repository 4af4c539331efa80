"""Human time on a steady clock: what is due in so many seconds minds no step of the wall clock.

That a machine without a battery for its clock steps by hours or days once the network tells it
the time is common practice on the Pi (no source).
"""

from __future__ import annotations

import threading
from collections.abc import Iterator
from datetime import UTC, datetime, timedelta, tzinfo
from itertools import pairwise

import pytest
from hypothesis import given
from hypothesis import strategies as st
from pytest_mock import MockerFixture

from firmware_py.engine import clock
from firmware_py.engine.clock import SteadyZone
from firmware_py.engine.schedule import Regularly, Schedule

GENEROUS_S = 60.0
DAYS = timedelta(days=3)
PLACES = (
    "apscheduler.schedulers.base.datetime",
    "apscheduler.executors.base.datetime",
    "firmware_py.engine.schedule.datetime",
    "firmware_py.engine.clock.datetime",
)


class Wall(datetime):
    """The wall clock as everybody reads it, ``step`` away from where it was."""

    step = timedelta(0)

    @classmethod
    def now(cls, tz: tzinfo | None = None) -> Wall:
        utc = cls.fromtimestamp(datetime.now(UTC).timestamp(), UTC) + cls.step
        return utc if tz is None else tz.fromutc(utc.replace(tzinfo=tz))  # type: ignore[return-value]


@pytest.fixture
def wall(mocker: MockerFixture) -> Iterator[type[Wall]]:
    for place in PLACES:
        mocker.patch(place, Wall)
    Wall.step = timedelta(0)
    yield Wall
    Wall.step = timedelta(0)


@pytest.fixture
def schedule() -> Iterator[Schedule]:
    schedule = Schedule()
    schedule.start()
    yield schedule
    schedule.stop()


# The zone.


@given(st.integers(-(10**15), 10**15), st.integers(0, 10**13))
def test_the_zone_counts_what_the_steady_clock_counts(asked_us: int, passed_us: int) -> None:
    steady = iter([5_000, 5_000 + passed_us])
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(clock, "steady_us", lambda: next(steady))
        before = datetime.now(UTC).replace(tzinfo=None)
        zone = SteadyZone()
        after = datetime.now(UTC).replace(tzinfo=None)
        # Whatever UTC time the wall clock claims it to be.
        claimed = datetime(2001, 1, 1, tzinfo=zone) + timedelta(microseconds=asked_us // 1_000)
        now = zone.fromutc(claimed).replace(tzinfo=None)
    passed = timedelta(microseconds=passed_us)
    assert before + passed <= now <= after + passed


@pytest.mark.parametrize("step", [DAYS, -DAYS])
def test_the_time_in_the_zone_does_not_step_with_the_wall(
    wall: type[Wall], step: timedelta
) -> None:
    zone = SteadyZone()
    first = Wall.now(zone)
    wall.step = step
    second = Wall.now(zone)
    assert timedelta(0) <= second - first < timedelta(hours=1)


def test_the_zone_has_no_offset() -> None:
    zone = SteadyZone()
    now = datetime.now(zone)
    assert (zone.utcoffset(now), zone.dst(now), zone.tzname(now)) == (timedelta(0),) * 2 + (
        "steady",
    )


# At regular intervals.

AT = datetime(2030, 5, 1, 12, 0, 0)
EVERY = timedelta(seconds=2)


def test_the_first_time_is_an_interval_from_now() -> None:
    assert Regularly(EVERY).get_next_fire_time(None, AT) == AT + EVERY


@given(st.lists(st.integers(0, 3_900_000), min_size=2, max_size=30))
def test_it_does_not_drift_while_it_is_served_in_time(delays_us: list[int]) -> None:
    trigger = Regularly(EVERY)
    previous = AT
    fired = [previous]
    for delay_us in delays_us:
        now = previous + timedelta(microseconds=delay_us)
        previous = trigger.get_next_fire_time(previous, now)
        fired.append(previous)
    assert all(later - earlier == EVERY for earlier, later in pairwise(fired))


def test_what_is_long_past_is_not_made_up_for() -> None:
    late = AT + timedelta(hours=1)
    assert Regularly(EVERY).get_next_fire_time(AT, late) == late + EVERY


# The schedule, with a scheduler that really runs.


@pytest.mark.parametrize("step", [DAYS, -DAYS, timedelta(hours=2)])
def test_a_step_of_the_wall_loses_nothing_that_is_due(
    wall: type[Wall], schedule: Schedule, step: timedelta
) -> None:
    done = threading.Event()
    schedule.after("answer", 0.3, done.set)
    wall.step = step
    assert done.wait(GENEROUS_S)


@pytest.mark.parametrize("step", [DAYS, -DAYS])
def test_a_step_of_the_wall_stops_nothing_regular(
    wall: type[Wall], schedule: Schedule, step: timedelta
) -> None:
    beats = threading.Semaphore(0)
    schedule.every("check", 0.02, beats.release)
    assert beats.acquire(timeout=GENEROUS_S)
    wall.step = step
    for _ in range(5):
        assert beats.acquire(timeout=GENEROUS_S)


def test_a_step_of_the_wall_fires_nothing_early(wall: type[Wall], schedule: Schedule) -> None:
    early, in_time = threading.Event(), threading.Event()
    schedule.after("the evening's end", 3_600.0, early.set)
    wall.step = DAYS
    schedule.after("soon", 0.1, in_time.set)
    assert in_time.wait(GENEROUS_S)
    assert not early.is_set()


def test_a_job_of_the_same_name_takes_the_place_of_the_first(schedule: Schedule) -> None:
    done: list[str] = []
    there = threading.Event()
    schedule.after("answer", 0.4, lambda: done.append("first"))
    schedule.after("answer", 0.2, lambda: done.append("second"))
    schedule.after("later", 0.6, there.set)
    assert there.wait(GENEROUS_S)
    assert done == ["second"]


def test_a_cancelled_job_is_not_done(schedule: Schedule) -> None:
    done, there = threading.Event(), threading.Event()
    schedule.after("answer", 0.2, done.set)
    schedule.cancel("answer")
    schedule.after("later", 0.4, there.set)
    assert there.wait(GENEROUS_S)
    assert not done.is_set()


def test_cancelling_what_is_not_there_is_nothing(schedule: Schedule) -> None:
    schedule.cancel("answer")
    schedule.after("answer", 3_600.0, lambda: None)
    schedule.cancel("answer")
    schedule.cancel("answer")


def test_cancelling_in_the_very_moment_in_which_a_job_begins_is_nothing(
    schedule: Schedule, mocker: MockerFixture
) -> None:
    """The scheduler's own thread takes the job away between our look and our hand."""
    schedule.after("answer", 3_600.0, lambda: None)
    inner = schedule._scheduler  # there is no other way to stand between the two threads
    remove = inner.remove_job

    def gone_first(name: str) -> None:
        remove(name)
        remove(name)

    mocker.patch.object(inner, "remove_job", side_effect=gone_first)
    schedule.cancel("answer")


def test_a_job_that_raises_does_not_stop_the_others(schedule: Schedule) -> None:
    def fail() -> None:
        raise OSError("no")

    there = threading.Event()
    schedule.after("bad", 0.05, fail)
    schedule.after("good", 0.2, there.set)
    assert there.wait(GENEROUS_S)


def test_a_stopped_schedule_does_nothing_more_and_may_be_stopped_twice() -> None:
    schedule = Schedule()
    schedule.stop()
    schedule.start()
    schedule.after("answer", 3_600.0, lambda: None)
    schedule.stop()
    schedule.stop()


def test_a_schedule_that_stops_as_a_job_begins_stops_cleanly(
    mocker: MockerFixture,
) -> None:
    """The job's own doing may be what ends the session."""
    trouble = mocker.patch("threading.excepthook")
    for _ in range(50):
        schedule, done = Schedule(), threading.Event()
        schedule.start()
        schedule.after("end", 0.0, done.set)
        assert done.wait(GENEROUS_S)
        schedule.stop()
    trouble.assert_not_called()
