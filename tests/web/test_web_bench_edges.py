"""Traces and bounces: against a plain recount of the same edges, and with bounds that hold."""

from __future__ import annotations

from itertools import pairwise

from hypothesis import given
from hypothesis import strategies as st

from firmware_py.layout.reading import parse_layout
from firmware_py.logbook.records import ReadingRecord
from web.bench.edges import BUCKETS_US, KEPT, Trace, Traces

SETTLE_US = 20_000
GAPS = st.one_of(
    st.integers(1, 60_000),
    st.sampled_from([*BUCKETS_US, SETTLE_US, SETTLE_US - 1, SETTLE_US + 1, 5_000_000]),
)
EDGES = st.lists(st.tuples(GAPS, st.sampled_from([True, False, None])), max_size=120)


def run(gaps: list[tuple[int, bool | None]], settle_us: int = SETTLE_US) -> tuple[Trace, list[int]]:
    trace, at_us, times = Trace(settle_us), 1_000_000, []
    for gap_us, made in gaps:
        at_us += gap_us
        trace.edge(at_us, made)
        times.append(at_us)
    return trace, times


@given(EDGES)
def test_gaps_bounces_and_the_longest_are_those_of_a_plain_recount(
    gaps: list[tuple[int, bool | None]],
) -> None:
    trace, times = run(gaps)
    runs: list[list[int]] = []
    for at_us in times:
        if runs and at_us - runs[-1][-1] < SETTLE_US:
            runs[-1].append(at_us)
        else:
            runs.append([at_us])
    bounces = [run for run in runs if len(run) > 1]
    within = [b - a for run in bounces for a, b in pairwise(run)]
    counted = [
        sum(low <= gap < high for gap in within) for low, high in pairwise([0, *BUCKETS_US, 10**12])
    ]
    assert trace.gaps == counted
    assert trace.bounces == len(bounces)
    assert trace.longest_us == max((run[-1] - run[0] for run in bounces), default=0)


@given(EDGES)
def test_a_trace_holds_the_last_edges_and_what_was_before_them(
    gaps: list[tuple[int, bool | None]],
) -> None:
    trace, times = run(gaps)
    levels = [made for _, made in gaps]
    assert list(trace.edges) == list(zip(times, levels, strict=True))[-KEPT:]
    if len(levels) > KEPT:
        assert trace.before is levels[-KEPT - 1]


def test_before_the_first_edge_a_contact_was_the_other_way() -> None:
    assert run([(5, True)])[0].before is False
    assert run([(5, False)])[0].before is True
    assert run([(5, None)])[0].before is None, "nobody can say"
    told = Trace(SETTLE_US)
    told.start(True)
    told.edge(9, None)
    assert told.before is True


def test_a_settle_time_of_nothing_has_no_bounces() -> None:
    trace, _ = run([(1, True), (1, False), (1, True)], settle_us=0)
    assert (trace.bounces, sum(trace.gaps)) == (0, 0)


LAYOUT = parse_layout(
    """
[layout]
name = "Two ways"
scale = "HO"
[[switch]]
id = "a-switch"
lock = "none"
contacts = { normal = { pin = 4, settle = 0.05 }, reverse = 5 }
""",
    "two-ways.toml",
)


def test_readings_of_the_outset_are_no_edges_and_strangers_are_passed_over() -> None:
    traces = Traces(LAYOUT)
    assert (traces.since_us, traces.whole) == (None, False)
    traces.take(
        [
            ReadingRecord(1, 0, "a-switch.normal", True),
            ReadingRecord(2, 0, "a-switch.reverse", False),
            ReadingRecord(3, 900, "gone.hasp", True),
            ReadingRecord(4, 1_000, "a-switch.normal", False),
            ReadingRecord(5, 41_000, "a-switch.normal", True),
        ]
    )
    assert (traces.since_us, traces.whole, traces.last_id) == (0, True, 5)
    normal, reverse = traces.view("a-switch.normal"), traces.view("a-switch.reverse")
    assert normal["before"] is True
    assert normal["trace"] == [(1_000, False), (41_000, True)]
    assert normal["bounces"] == 1, "40 ms are within its own settle time of 50 ms"
    assert (reverse["before"], reverse["trace"]) == (False, [])


def test_what_is_held_does_not_grow_with_time() -> None:
    traces = Traces(LAYOUT)
    for number in range(20_000):
        traces.take([ReadingRecord(number, 1 + number * 300, "a-switch.normal", number % 2 == 0)])
    view = traces.view("a-switch.normal")
    assert len(view["trace"]) == KEPT
    assert len(view["gaps"]) == len(BUCKETS_US) + 1
    assert sum(view["gaps"]) == 19_999
