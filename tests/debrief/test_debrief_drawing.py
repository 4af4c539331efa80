"""The drawings are well-formed, escape what they are given, and need no inline style."""

from __future__ import annotations

import doctest
import xml.etree.ElementTree as ET
from importlib import import_module
from itertools import pairwise

import pytest
from hypothesis import given
from hypothesis import strategies as st
from markupsafe import Markup

from firmware_py.logbook.records import ViolationRecord
from web.debrief.drawing import shortened, svg, tag, text
from web.debrief.evening import Span, Wait, WaitFor
from web.debrief.marks import placed
from web.debrief.pace import spread_of
from web.debrief.plots import (
    Bar,
    StepRow,
    TrapRow,
    WaitRow,
    speeds_plot,
    steps_plot,
    trend_plot,
    waiting_plot,
)
from web.debrief.timeline import Line, timeline
from web.debrief.times import axis_ticks, clock
from web.debrief.waiting import Waiting

US = 1_000_000
HOSTILE = "\"><script>alert(1)</script>&'</text>"
WORDS = st.text(st.characters(exclude_categories=["Cs", "Cc"]), max_size=30)


def parsed(drawing: Markup) -> ET.Element:
    root = ET.fromstring(str(drawing))
    for element in root.iter():
        assert "style" not in element.attrib
        assert element.tag != "script"
        assert not [name for name in element.attrib if name.startswith("on")]
        for name in ("x", "y", "width", "height", "cx", "x1", "x2"):
            if name in element.attrib:
                assert float(element.attrib[name]) == float(element.attrib[name]), "no NaN"
                if name in ("width", "height"):
                    assert float(element.attrib[name]) >= 0
    return root


@pytest.mark.parametrize("module", ["drawing", "export", "marks", "summary", "times"])
def test_the_examples_in_the_words_are_true(module: str) -> None:
    found = doctest.testmod(import_module(f"web.debrief.{module}"))
    assert found.attempted
    assert not found.failed


@given(words=WORDS)
def test_whatever_words_stay_words(words: str) -> None:
    root = parsed(svg(10, 10, words, text(1, 2, words), tag("g", words, data_name=words)))
    assert root.attrib["aria-label"] == words
    assert root[1].text == (words or None)


def a_violation(number: int, t_us: int) -> ViolationRecord:
    return ViolationRecord(number, t_us, 0, "out-of-order", "x", "kiln", (), 1, t_us, None, HOSTILE)


def test_a_timeline_says_everything_in_words_too() -> None:
    line = Line(
        HOSTILE,
        "",
        [Span("lined", 0, 60 * US), Span("in-use", 60 * US, 600 * US, open=True)],
        [Span("working", 60 * US, 600 * US, open=True)],
        [Wait("kiln", WaitFor.FOREMAN, 10 * US, 40 * US, "released")],
        [a_violation(1, 70 * US)],
    )
    root = parsed(timeline("Everything", [line], 600 * US, "a", lambda one: HOSTILE))
    titles = [element.text or "" for element in root.iter("title")]
    assert "lined: 1 min 00 s, from 0:00:00, until 0:01:00" in titles
    assert "in use: 9 min 00 s, from 0:01:00, still so at the end" in titles
    assert any("waiting for the foreman (released): 30 s" in title for title in titles)
    assert f"1. 0:01:10 {HOSTILE}" in titles
    ids = [element.attrib["id"] for element in root.iter() if "id" in element.attrib]
    fills = [element.attrib.get("fill", "") for element in root.iter()]
    used = {fill[5:-1] for fill in fills if fill.startswith("url(#")}
    assert used <= set(ids)
    assert len(ids) == len(set(ids))


def test_an_evening_of_no_length_can_still_be_drawn() -> None:
    line = Line("Kiln", "", [Span("lined", 0, 0)], (), (), [a_violation(1, 0)])
    parsed(timeline("Nothing", [line], 0, "a", lambda one: "it"))


def test_marks_too_near_each_other_share_one() -> None:
    marks = placed([(10, 1), (12, 2), (100, 3), (104, 5)], apart=20)
    assert [(mark.numbers, mark.label) for mark in marks] == [
        ((1, 2), "1\N{EN DASH}2"),
        ((3, 5), "3…5"),
    ]


@given(seconds=st.integers(0, 400_000))
def test_an_axis_has_few_ticks_at_round_moments(seconds: int) -> None:
    ticks = axis_ticks(seconds * US)
    assert 1 <= len(ticks) <= 13
    steps = {after - before for (before, _), (after, _) in pairwise(ticks)}
    assert len(steps) <= 1
    assert all(at <= seconds * US for at, _ in ticks)


@given(words=WORDS, width=st.floats(1, 400))
def test_shortened_words_fit(words: str, width: float) -> None:
    assert len(shortened(words, width)) <= max(1, int(width / 7.2))


def test_plots_of_one_and_of_many() -> None:
    rows = [
        StepRow("Kiln"),
        StepRow("Flag off", [4 * US, 9 * US], 6.5 * US, spread_of([3.0 * US, 8.0 * US, 99.0 * US])),
        StepRow("Work", [1_900 * US], 1_900.0 * US),
    ]
    root = parsed(steps_plot("Steps", rows))
    assert len(root.findall(".//circle")) == 3
    assert any("before 8.0 s" in (title.text or "") for title in root.iter("title"))
    parsed(steps_plot("Steps", [StepRow("Flag off", [5], 5.0, spread_of([5.0]))]))


def test_the_waiting_bar_ends_at_what_was_waited_though_waits_overlap() -> None:
    both = Waiting(100 * US, 40 * US, 40 * US, 40 * US)
    root = parsed(waiting_plot("Waiting", [WaitRow("All", both)], 50, "w"))
    bars = [one for one in root.findall("./g/rect") if one.attrib["class"] == "wait"]
    assert len(bars) == 2
    ends = max(float(one.attrib["x"]) + float(one.attrib["width"]) for one in bars)
    ceiling = next(one for one in root.iter("line") if one.attrib["class"] == "ceiling")
    left = min(float(one.attrib["x"]) for one in bars)
    assert (ends - left) / (float(ceiling.attrib["x1"]) - left) == pytest.approx(0.8, abs=0.01)


def test_passes_over_the_limit_have_another_shape() -> None:
    root = parsed(speeds_plot("Speeds", [TrapRow("Ramp", [4.0, 8.0, 8.1], 8.0)]))
    assert len(root.findall(".//circle")) == 2
    assert len(root.findall(".//polygon")) == 1
    parsed(speeds_plot("Speeds", [TrapRow("Ramp", [0.0], None)]))


def test_a_session_without_a_figure_has_a_dash_and_the_others_bars_in_proportion() -> None:
    bars = [Bar("1", 2.0), Bar("2", None), Bar("3", 4.0, here=True)]
    root = parsed(trend_plot("Violations", bars, ".1f"))
    heights = [float(one.attrib["height"]) for one in root.iter("rect")]
    assert heights[1] == pytest.approx(2 * heights[0], abs=0.05)
    assert "\N{EN DASH}" in [element.text for element in root.iter("text")]
    parsed(trend_plot("Nothing", [Bar("1", 0.0)], ".0f", 25.0))


def test_the_clock_goes_over_an_hour() -> None:
    assert (clock(0), clock(59_999_999), clock(36_000 * US)) == ("0:00:00", "0:00:59", "10:00:00")
