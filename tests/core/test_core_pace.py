"""Speed traps and brake tests (section 11); the formulas are worked by hand beside each number."""

from __future__ import annotations

import pytest
from core_bench import Bench, rich_layout

from firmware_py.core.entries import SpeedEntry
from firmware_py.core.pace import brake_test_seconds, scale_mph
from firmware_py.layout.reading import parse_layout

SWITCH, SPUR = "marl-switch.detector", "marl.detector"


def test_scale_speed() -> None:
    """1000 mm in 2 s at 1:87.1: 500 x 87.1 x 0.00223694 scale miles an hour."""
    assert scale_mph(1000.0, 2_000_000, 87.1) == pytest.approx(97.4187, abs=1e-4)


def test_a_brake_test_is_as_long_as_the_rulebook_s() -> None:
    """Three cars at 6:1, the value worked in section 11."""
    assert brake_test_seconds(3, 6) == pytest.approx(17.528, abs=1e-3)


def speeds(lines: list[str]) -> list[str]:
    return [line for line in lines if line.startswith(("speed", "violation 1 over"))]


def test_a_pass_is_measured_between_the_raw_edges_either_way_round() -> None:
    """305 mm in 8 s: 38.125 x 87.1 x 0.00223694 = 7.43 mph, though one of them settles late."""
    for first, second in ((SWITCH, SPUR), (SPUR, SWITCH)):
        bench = Bench(rich_layout())
        assert speeds(bench.settle(10, first, True)) == []
        assert speeds(bench.settle(18, second, True)) == ["speed approach 7.43"]


def test_two_edges_at_once_are_no_speed_and_disarm_the_trap() -> None:
    bench = Bench(rich_layout())
    bench.read(10, SWITCH, True)
    assert speeds(bench.settle(10, SPUR, True)) == []
    bench.settle(12, SPUR, False)
    assert speeds(bench.settle(18, SPUR, True)) == []


def test_a_detector_that_becomes_occupied_again_arms_the_trap_again() -> None:
    bench = Bench(rich_layout())
    bench.settle(10, SWITCH, True)
    bench.settle(12, SWITCH, False)
    bench.settle(20, SWITCH, True)
    assert speeds(bench.settle(28, SPUR, True)) == ["speed approach 7.43"]
    bench.settle(30, SPUR, False)
    assert speeds(bench.settle(32, SPUR, True)) == [], "read once, it is disarmed"


@pytest.mark.parametrize(("apart", "found"), [(60.0, 1), (60.000001, 0)])
def test_more_than_a_minute_is_stopped_and_arms_anew(apart: float, found: int) -> None:
    bench = Bench(rich_layout())
    bench.settle(10, SWITCH, True)
    assert len(speeds(bench.settle(10 + apart, SPUR, True))) == found
    bench.settle(72, SWITCH, False)
    assert len(speeds(bench.settle(78, SWITCH, True))) == 1 - found


def test_the_limit_itself_is_not_too_fast() -> None:
    limit = scale_mph(305.0, 8_000_000, 87.1)
    text = """
    [layout]
    name = "Trap"
    scale = "HO"
    [[switch]]
    id = "a"
    lock = "none"
    contacts = { normal = "auto", reverse = "auto", detector = "auto" }
    [[spur]]
    id = "b"
    switch = "a"
    contacts = { detector = "auto" }
    [[trap]]
    id = "trap"
    first = "a.detector"
    second = "b.detector"
    distance_mm = 305.0
    limit_mph = """
    for end, rules in ((8.0, []), (7.999999, ["violation 1 over-speed trap -"])):
        bench = Bench(parse_layout(f"{text}{limit!r}", "trap.toml"))
        bench.settle(10, "a.detector", True)
        found = bench.settle(10 + end, "b.detector", True)
        assert [line for line in found if line.startswith("violation")] == rules


def test_a_speed_is_not_rounded() -> None:
    bench = Bench(rich_layout())
    bench.settle(10, SWITCH, True)
    bench.core.reading(18_000_000, SPUR, True)
    found = bench.core.advance(19_000_000)
    assert [e.mph for e in found if isinstance(e, SpeedEntry)] == [
        scale_mph(305.0, 8_000_000, 87.1)
    ]


def test_a_chattering_detector_reads_a_speed_that_is_held_against_nobody() -> None:
    """Section 7. 305 mm in 1 s is 59.4254 mph, where the limit is 10."""
    for edges, told in ((1, [["over-speed", "approach", "-"]]), (21, [])):
        bench = Bench(rich_layout())
        bench.settle(10, SWITCH, True)
        for edge in range(edges):
            bench.read(11 + (edge + 1 - edges) / 1000, SPUR, edge % 2 == 0)
        found = bench.wait(11.6)
        assert speeds(found) == ["speed approach 59.43"]
        assert [line.split()[2:] for line in found if " over-speed " in line] == told


LAMP = """
[layout]
name = "Trap"
scale = "HO"
[[switch]]
id = "a"
lock = "none"
contacts = { normal = "auto", reverse = "auto", detector = "auto" }
[[spur]]
id = "b"
switch = "a"
contacts = { detector = "auto" }
[[trap]]
id = "trap"
first = "a.detector"
second = "b.detector"
distance_mm = 305.0
limit_mph = 10
lamp = "auto"
"""


def passed(bench: Bench, at: float, seconds: float) -> list[str]:
    """A train through the trap in so many seconds; what the lamp says of it."""
    bench.settle(at, "a.detector", True)
    found = bench.settle(at + seconds, "b.detector", True)
    found += bench.settle(at + seconds + 1, "a.detector", False)
    found += bench.settle(at + seconds + 1.7, "b.detector", False)
    found += bench.wait(at + seconds + 4)
    return [line for line in found if line.startswith("output")]


def test_a_trap_s_lamp_tells_of_a_pass_over_the_limit_for_ten_seconds() -> None:
    bench = Bench(parse_layout(LAMP, "trap.toml"), outputs=True)
    assert bench.shows("trap", "lamp") == "off"
    assert passed(bench, 10, 3) == ["output trap lamp steady"]
    assert bench.wait(13.02 + 9.9) == []
    assert bench.wait(13.02 + 10) == ["output trap lamp off"]


def test_another_pass_over_the_limit_keeps_it_lit() -> None:
    bench = Bench(parse_layout(LAMP, "trap.toml"), outputs=True)
    assert passed(bench, 10, 3) == ["output trap lamp steady"]
    assert passed(bench, 18, 1) == [], "lit anew, which shows nothing new"
    assert bench.wait(28) == []
    assert bench.wait(29.1) == ["output trap lamp off"]


def test_a_pass_within_the_limit_lights_nothing() -> None:
    bench = Bench(parse_layout(LAMP, "trap.toml"), outputs=True)
    assert passed(bench, 10, 8) == []


def test_a_slow_pass_puts_the_lamp_out_at_once() -> None:
    """305 mm in 4.8 s is 12.38 mph; the trap is read again while its lamp is lit."""
    layout = LAMP.replace("limit_mph = 10", "limit_mph = 13")
    bench = Bench(parse_layout(layout, "trap.toml"), outputs=True)
    assert passed(bench, 10, 1) == ["output trap lamp steady"]
    bench.settle(15.5, "a.detector", True)
    assert "output trap lamp off" in bench.settle(20.3, "b.detector", True)
    assert bench.core.now_us < 11_020_000 + 10_000_000


def test_a_chattering_pass_leaves_the_lamp_as_it_is() -> None:
    bench = Bench(parse_layout(LAMP, "trap.toml"), outputs=True)
    bench.settle(10, "a.detector", True)
    for edge in range(21):
        bench.read(11 + (edge - 20) / 1000, "b.detector", edge % 2 == 0)
    assert "speed trap 59.43" in bench.wait(11.6)
    assert bench.shows("trap", "lamp") == "off"
