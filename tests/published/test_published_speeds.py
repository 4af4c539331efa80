"""Scale speed and the two-detector trap, against published ratios and worked values.

Ratios are those of NMRA S-3.2 (2010), NMRA RP-3 and NEM 010 (2011), read in copies; the worked
values are computed from them (1 mile = 5280 feet, 1 inch = 25.4 mm).
"""

import pytest
from published_tape import raised, speeds

TRAP = """
[layout]
{scale}
[[switch]]
id = "east"
lock = "none"
contacts = {{ normal = "auto", reverse = "auto", detector = "auto" }}
[[switch]]
id = "west"
lock = "none"
contacts = {{ normal = "auto", reverse = "auto", detector = "auto" }}
[[trap]]
id = "trap"
first = "east.detector"
second = "west.detector"
distance_mm = {distance}
{limit}
"""
INCH = 25.4
NMRA = ('scale = "Z"', 'scale = "N"', 'scale = "TT"', 'scale = "HO"', 'scale = "S"', 'scale = "O"')


def trap(scale: str, distance_mm: float, limit: str = "") -> str:
    """A layout with one trap, as TOML."""
    return TRAP.format(scale=scale, distance=distance_mm, limit=limit)


def passed(seconds: float, *, first: str = "east", start: float = 10.0) -> str:
    """A pass: one detector, and the other so many seconds later."""
    other = "west" if first == "east" else "east"
    then = start + seconds
    return f"{start} {first}.detector made\n{then:.6f} {other}.detector made\n{then + 1:.6f} end"


def speed(scale: str, distance_mm: float, seconds: float) -> float:
    """The one speed that a pass is read at."""
    (mph,) = speeds(passed(seconds), layout=trap(scale, distance_mm))
    return mph


@pytest.mark.parametrize(
    ("scale", "mph"),
    [
        ('scale = "Z"', 12.5),
        ('scale = "N"', 9.0909),
        ('scale = "TT"', 6.8182),
        ('scale = "HO"', 4.9489),
        ('scale = "S"', 3.6364),
        ('scale = "O"', 2.7273),
        ('scale = "0"', 2.5568),
        ('scale = "I"', 1.8182),
        ('scale = "II"', 1.2784),
    ],
)
def test_scale_miles_an_hour_in_one_inch_a_second(scale: str, mph: float) -> None:
    """One inch in one second, in every scale from Z to II.

    Source: NMRA S-3.2, RP-3 and NEM 010 for the ratios, read in copies; computed.
    """
    assert speed(scale, INCH, 1.0) == pytest.approx(mph, abs=0.00006)


@pytest.mark.parametrize(
    ("scale", "seconds"), [*zip(NMRA, (15.00, 10.91, 8.18, 5.94, 4.36, 3.27), strict=True)]
)
def test_twelve_inches_at_ten_scale_miles_an_hour(scale: str, seconds: float) -> None:
    """The table's seconds have two decimals; the speed agrees as closely as they allow.

    Source: NMRA S-3.2 and RP-3 for the ratios, read in copies; computed.
    """
    assert speed(scale, 12 * INCH, seconds) == pytest.approx(10, abs=10 * 0.0051 / seconds)


@pytest.mark.parametrize(
    ("scale", "mph"),
    [
        ('scale = "HO"', 17.8159),
        ('scale = "H0"', 17.7955),
        ('scale = "N"', 32.7273),
        ('scale = "Z"', 45.0),
        ('scale = "TT"', 24.5455),
        ('scale = "S"', 13.0909),
        ('scale = "O"', 9.8182),
        ("ratio = 87.1", 17.8159),
    ],
)
def test_three_feet_in_ten_seconds(scale: str, mph: float) -> None:
    """Test vectors of scale speed; the given constant 0.00223694 has six digits.

    Source: NMRA S-3.2, RP-3 and NEM 010 for the ratios, read in copies; computed.
    """
    assert speed(scale, 36 * INCH, 10.0) == pytest.approx(mph, rel=4e-6)


def test_one_metre_in_eight_seconds() -> None:
    """24.3546 scale miles an hour, which a limit of 39.195 scale km/h separates.

    Source: NMRA S-3.2 for the ratio, read in a copy; computed.
    """
    assert speed('scale = "HO"', 1000.0, 8.0) == pytest.approx(24.3546, abs=0.0001)
    for limit, raises in (("limit_kmh = 39.18", True), ("limit_kmh = 39.21", False)):
        layout = trap('scale = "HO"', 1000.0, limit)
        assert (raised(passed(8.0), layout=layout) == [("over-speed", "trap")]) is raises


@pytest.mark.parametrize(
    ("mph", "inches", "seconds"),
    [(10, 12, 5.9386), (4, 12, 14.847), (20, 12, 2.9693), (60, 12, 0.9898), (10, 2, 0.9898)],
)
def test_trap_cases_in_ho(mph: float, inches: float, seconds: float) -> None:
    """The five worked passes of a trap in HO, 1:87.1.

    Source: NMRA S-3.2 for the ratio, read in a copy; computed.
    """
    assert speed('scale = "HO"', inches * INCH, seconds) == pytest.approx(mph, rel=6e-5)


def test_trap_error_of_timing_and_of_spacing_together() -> None:
    """10 mph over 12 inches, 10 ms and 1/16 inch at their worst: 9.931 to 10.069.

    Source: standard propagation of errors, from memory; computed.
    """
    slow = speed('scale = "HO"', (12 - 1 / 16) * INCH, 5.9386 + 0.010)
    fast = speed('scale = "HO"', (12 + 1 / 16) * INCH, 5.9386 - 0.010)
    assert slow == pytest.approx(9.931, abs=0.0006)
    assert fast == pytest.approx(10.069, abs=0.0006)


def test_trap_while_braking_reads_the_mean_speed() -> None:
    """In at 10, braking at half a mile an hour each second, over 12 inches: 8.186.

    Source: computed.
    """
    assert speed('scale = "HO"', 12 * INCH, 7.254) == pytest.approx(8.186, abs=0.001)


def test_trap_where_the_engine_stops_inside_reads_no_speed() -> None:
    """A stop inside the trap is not a slow speed: after a minute nothing is read.

    Source: computed (an engine braking at one mile an hour each second stops after 10.10 of the
    12 inches). The minute is the layout's own rule; common practice, no source.
    """
    layout = trap('scale = "HO"', 12 * INCH)
    assert speeds(passed(60.000001), layout=layout) == []
    assert len(speeds(passed(60.0), layout=layout)) == 1


def test_trap_reads_the_raw_edges_and_not_the_settled_ones() -> None:
    """Different settle times at the two detectors must not change the speed.

    Source: unequal thresholds act as an error of spacing, from memory.
    """
    layout = trap('scale = "HO"', 12 * INCH)
    slow = 'detector = { pin = "auto", settle = 0.5 }'
    layout = layout.replace('detector = "auto"', slow, 1)
    assert speeds(passed(5.9386), layout=layout) == [pytest.approx(10.0, abs=0.0002)]


def test_trap_reads_either_way_round() -> None:
    """The same pass from the other end has the same speed.

    Source: common practice, no source.
    """
    layout = trap('scale = "HO"', 12 * INCH)
    assert speeds(passed(5.9386, first="west"), layout=layout) == speeds(
        passed(5.9386), layout=layout
    )


def test_49cfr_236_812_restricted_speed_is_at_most_20_mph() -> None:
    """A trap with restricted speed's 20 mph as its limit: 20.1 is too fast, 19.9 is not.

    Source: 49 CFR 236.812, not over 20 mph: 2015 annual edition, read second-hand. Its other
    half, able to stop within half the range of vision, can't be sensed by contacts.
    """
    layout = trap('scale = "HO"', 12 * INCH, "limit_mph = 20.0")
    at_20 = 2.96930
    assert raised(passed(at_20 * 20 / 20.1), layout=layout) == [("over-speed", "trap")]
    assert raised(passed(at_20 * 20 / 19.9), layout=layout) == []


def test_the_layouts_own_limit_is_the_limit() -> None:
    """Exactly at the limit is not over it.

    Source: the layout owner's own limit; no published text fixes this one.
    """
    layout = trap("ratio = 100.0", 1000.0, "limit_mph = 22.3694")
    assert speeds(passed(10.0), layout=layout) == [pytest.approx(22.3694, abs=1e-9)]
    assert raised(passed(10.001), layout=layout) == []
    assert raised(passed(9.999), layout=layout) == [("over-speed", "trap")]
