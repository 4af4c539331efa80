"""Passes as people read them: direction, doubt, unit and job."""

from __future__ import annotations

from dataclasses import replace

import pytest

from firmware_py.layout.model import Layout, Trap
from firmware_py.layout.reading import parse_layout
from firmware_py.logbook.screen.jobs import Job, JobStop
from web.crew.progress import Progress, StopProgress, StopState
from web.live.board import Round
from web.live.passes import directions, jobs_at, speed_view
from web.live.plan import Plan

TEXT = """
[layout]
name = "Slipway"
scale = "HO"
[[switch]]
id = "slip-switch"
lock = "none"
contacts = { normal = "auto", reverse = "auto", detector = { pin = "auto", settle = 0.05 } }
[[spur]]
id = "slip"
switch = "slip-switch"
contacts = { detector = "auto" }
[[trap]]
id = "slip-trap"
first = "slip-switch.detector"
second = "slip.detector"
distance_mm = 305.0
limit_kmh = 16.0
"""
FIRST, SECOND = "slip-switch.detector", "slip.detector"


@pytest.fixture
def layout() -> Layout:
    return parse_layout(TEXT, "slipway.toml")


@pytest.mark.parametrize(
    ("edges", "end"),
    [
        ([(4_000_000, FIRST), (9_980_400, SECOND)], SECOND),
        ([(4_000_000, SECOND), (9_950_000, FIRST)], FIRST),
        ([(9_980_000, SECOND), (9_950_000, FIRST)], None),
        ([(4_000_000, FIRST), (9_000_000, SECOND)], None),
        ([], None),
    ],
)
def test_the_edge_that_settled_as_the_pass_was_read_says_where_it_ended(
    layout: Layout, edges: list[tuple[int, str]], end: str | None
) -> None:
    """The first settles in 50 ms and the second in 20; lines give whole milliseconds."""
    found = directions(layout, [(10_000_000, "slip-trap")], edges)
    assert found == ({} if end is None else {(10_000_000, "slip-trap"): end})


def test_a_trap_that_is_gone_has_no_direction(layout: Layout) -> None:
    assert directions(layout, [(10_000_000, "gone")], [(9_980_000, SECOND)]) == {}


def trap_of(layout: Layout) -> Trap:
    [trap] = layout.traps
    return trap


def test_a_limit_in_kilometres_has_its_speeds_told_in_them(layout: Layout) -> None:
    """16 km/h is 9.94 mph; 10 mph in HO over 305 mm is off by 0.6 % at two sigmas (table I)."""
    seen = speed_view(trap_of(layout), 10.0, layout.ratio)
    assert seen["says"] == "16.1 ± 0.1"
    assert (seen["unit"], seen["limit_says"], seen["over"]) == ("scale km/h", "16", True)
    in_mph = speed_view(replace(trap_of(layout), in_kmh=False), 10.0, layout.ratio)
    assert (in_mph["says"], in_mph["unit"], in_mph["limit_says"]) == (
        "10.0 ± 0.1",
        "scale mph",
        "9.94",
    )
    assert in_mph["plus_minus"] == pytest.approx(10 * 2 * 0.00309, abs=2e-3)


def test_a_pass_so_slow_that_it_may_be_a_pause_says_so(layout: Layout) -> None:
    assert speed_view(trap_of(layout), 1.5, layout.ratio)["paused"]
    assert not speed_view(trap_of(layout), 4.0, layout.ratio)["paused"]


def test_a_trap_that_the_layout_lost_still_shows_its_speed() -> None:
    seen = speed_view(None, 7.04, 87.1)
    assert (seen["says"], seen["over"], seen["plus_minus"]) == ("7.0", False, None)


@pytest.mark.parametrize(("t_us", "names"), [(5, ""), (15_000, "Slip job"), (99_000_000, "")])
def test_the_job_is_the_one_whose_round_it_was(layout: Layout, t_us: int, names: str) -> None:
    worked = Round(1, 10_000, ended_id=2, ended_us=20_000)
    stop = StopProgress("slip", StopState.DONE, rounds=(worked,))
    jobs = {7: Job("Slip job", stops=(JobStop("slip"),), id=7)}
    assert jobs_at(Plan(layout), "slip-trap", t_us, jobs, {7: Progress((stop,), None)}) == names
