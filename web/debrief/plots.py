"""The debrief's smaller drawings: times at steps, waiting, speeds, and the last sessions. Pure."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass

from markupsafe import Markup

from web.debrief.drawing import box, joined, line, patterns, shortened, svg, tag, text, titled
from web.debrief.pace import Spread
from web.debrief.times import lasting
from web.debrief.waiting import Waiting

WIDTH = 760.0
ROW_H = 26.0
AXIS_H = 26.0


@dataclass(frozen=True, slots=True)
class StepRow:
    """One step: its name, this session's times, and how earlier ones spread; a heading has none."""

    name: str
    now: Sequence[int] = ()
    now_median: float = 0.0
    before: Spread | None = None


STEP_LEFT, STEP_RIGHT = 214.0, 192.0
STEP_TICKS_S = (1, 3, 10, 30, 60, 180, 600, 1800, 3600, 10800)


def steps_plot(label: str, rows: Sequence[StepRow]) -> Markup:
    """A row for each step on one axis of time, on which each mark is about three times the last."""
    times: list[float] = [us for row in rows for us in row.now]
    times += [us for row in rows if row.before for us in (row.before.low, row.before.high)]
    low, high = _log_ends(times)
    room = WIDTH - STEP_LEFT - STEP_RIGHT

    def x_of(us: float) -> float:
        part = (math.log(max(us, low)) - math.log(low)) / (math.log(high) - math.log(low))
        return STEP_LEFT + min(part, 1.0) * room

    parts: list[Markup] = []
    bottom = AXIS_H + ROW_H * len(rows)
    for at_s in STEP_TICKS_S:
        if low <= at_s * 1_000_000 <= high:
            x = x_of(at_s * 1_000_000)
            word = (
                f"{at_s} s"
                if at_s < 60
                else f"{at_s // 60} min"
                if at_s < 3600
                else f"{at_s // 3600} h"
            )
            parts.append(line(x, AXIS_H - 6, x, bottom, "grid"))
            parts.append(text(x, AXIS_H - 10, word, "axis", "middle"))
    for index, row in enumerate(rows):
        parts.append(_step_row(row, AXIS_H + ROW_H * index, x_of))
    return svg(WIDTH, bottom + 4, label, *parts, class_="steps-plot")


def _log_ends(times: Sequence[float]) -> tuple[float, float]:
    low = max(min(times, default=1_000_000.0), 300_000.0)
    high = max(times, default=60_000_000.0)
    return low * 0.85, max(high * 1.15, low * 4)


def _step_row(row: StepRow, top: float, x_of: Callable[[float], float]) -> Markup:
    y = top + ROW_H / 2
    if not row.now:
        return text(0, y + 5, shortened(row.name, WIDTH, 8.0), "row-label")
    parts = [text(12, y + 4, shortened(row.name, STEP_LEFT - 20, 6.9), "step-name")]
    parts.append(line(STEP_LEFT, y, WIDTH - STEP_RIGHT, y, "grid"))
    said = f"{row.name}: this session {lasting(row.now_median)}"
    if row.before is not None:
        before = row.before
        parts.append(line(x_of(before.low), y, x_of(before.high), y, "whisker"))
        wide = x_of(before.three_quarters) - x_of(before.quarter)
        parts.append(box(x_of(before.quarter), y - 7, wide, 14, "usual"))
        parts.append(line(x_of(before.median), y - 9, x_of(before.median), y + 9, "usual-median"))
        said += f"; before {lasting(before.median)}, mostly {lasting(before.quarter)} to "
        said += f"{lasting(before.three_quarters)}, of {before.count}"
    parts.extend(tag("circle", cx=x_of(us), cy=y, r=4.2, class_="now-dot") for us in row.now)
    told = lasting(row.now_median)
    if row.before is not None:
        told += f" · usual {lasting(row.before.median)}"
    parts.append(text(WIDTH - STEP_RIGHT + 10, y + 4, told, "step-told"))
    return titled(said, *parts)


@dataclass(frozen=True, slots=True)
class WaitRow:
    """A crew's waiting, or everybody's."""

    name: str
    waiting: Waiting


BAR_LEFT, BAR_RIGHT = 200.0, 66.0


def waiting_plot(label: str, rows: Sequence[WaitRow], ceiling: int, prefix: str) -> Markup:
    """Bars of per cent, the foreman's part and the brake tests' part, against the ceiling."""
    most = max([row.waiting.percent or 0 for row in rows] + [ceiling * 1.25, 10.0])
    top = min(100.0, math.ceil(most / 10) * 10)
    room = WIDTH - BAR_LEFT - BAR_RIGHT

    def x_of(percent: float) -> float:
        return BAR_LEFT + min(percent, top) / top * room

    height = 34.0
    bottom = AXIS_H + height * len(rows)
    parts = [patterns(prefix)]
    for percent in range(0, int(top) + 1, 10 if top <= 60 else 20):
        parts.append(line(x_of(percent), AXIS_H - 4, x_of(percent), bottom, "grid"))
        parts.append(text(x_of(percent), AXIS_H - 9, f"{percent} %", "axis", "middle"))
    for index, row in enumerate(rows):
        parts.append(_wait_row(row, AXIS_H + height * index, x_of, prefix))
    parts.append(line(x_of(ceiling), AXIS_H - 4, x_of(ceiling), bottom + 6, "ceiling"))
    parts.append(
        text(x_of(ceiling), bottom + 20, f"your ceiling: {ceiling} %", "ceiling-word", "middle")
    )
    parts.append(_wait_legend(bottom + 42, prefix))
    return svg(WIDTH, bottom + 52, label, *parts, class_="waiting-plot")


def _wait_row(row: WaitRow, top: float, x_of: Callable[[float], float], prefix: str) -> Markup:
    waiting, y = row.waiting, top + 6
    percent = waiting.percent or 0.0
    # Where both waits overlap, the bar still ends at what was really waited.
    both_us = max(waiting.foreman_us + waiting.brake_test_us, 1)
    split = x_of(percent * waiting.foreman_us / both_us)
    parts = [text(0, y + 16, shortened(row.name, BAR_LEFT - 10, 8.2), "row-label")]
    start, end = x_of(0), x_of(percent)
    if split > start:
        parts.append(box(start, y, split - start, 22, "wait", fill=f"url(#{prefix}-foreman)"))
    if end > split:
        parts.append(box(split, y, end - split, 22, "wait", fill=f"url(#{prefix}-brake-test)"))
    parts.append(text(end + 6, y + 16, f"{percent:.0f} %", "value halo"))
    said = (
        f"{row.name}: {percent:.0f} per cent of {lasting(waiting.time_us)}; "
        f"foreman {lasting(waiting.foreman_us)}, brake tests {lasting(waiting.brake_test_us)}"
    )
    return titled(said, *parts)


def _wait_legend(y: float, prefix: str) -> Markup:
    return joined(
        (
            box(0, y - 12, 26, 14, "wait", fill=f"url(#{prefix}-foreman)"),
            text(32, y, "waiting for a foreman", "legend"),
            box(190, y - 12, 26, 14, "wait", fill=f"url(#{prefix}-brake-test)"),
            text(222, y, "brake tests", "legend"),
        )
    )


@dataclass(frozen=True, slots=True)
class TrapRow:
    """A trap: its passes in order, and its limit where it has one."""

    name: str
    mph: Sequence[float]
    limit: float | None


def speeds_plot(label: str, rows: Sequence[TrapRow]) -> Markup:
    """A dot for each pass: round within the limit, a triangle above it."""
    fastest = [mph for row in rows for mph in row.mph] + [row.limit or 0.0 for row in rows]
    step = next((one for one in (1, 2, 5, 10, 20, 50) if max(fastest, default=1) / one <= 8), 100)
    top = math.ceil((max(fastest, default=1) * 1.08) / step) * step or 1
    room = WIDTH - BAR_LEFT - BAR_RIGHT

    def x_of(mph: float) -> float:
        return BAR_LEFT + mph / top * room

    height = 54.0
    bottom = AXIS_H + height * len(rows)
    parts: list[Markup] = []
    for mph in range(0, int(top) + 1, step):
        parts.append(line(x_of(mph), AXIS_H - 4, x_of(mph), bottom, "grid"))
        parts.append(text(x_of(mph), AXIS_H - 9, f"{mph}", "axis", "middle"))
    parts.append(text(WIDTH, AXIS_H - 9, "mph", "axis", "end"))
    for index, row in enumerate(rows):
        parts.append(_trap_row(row, AXIS_H + height * index, height, x_of))
    return svg(WIDTH, bottom + 6, label, *parts, class_="speeds-plot")


def _trap_row(row: TrapRow, top: float, height: float, x_of: Callable[[float], float]) -> Markup:
    y = top + height / 2
    over = sum(row.limit is not None and mph > row.limit for mph in row.mph)
    under = f"{len(row.mph)} passes" if len(row.mph) != 1 else "1 pass"
    if row.limit is not None:
        under += f", {over} over {row.limit:g} mph"
    parts = [
        text(0, y - 1, shortened(row.name, BAR_LEFT - 10, 8.2), "row-label"),
        text(0, y + 15, under, "row-under"),
        line(x_of(0), y, WIDTH - BAR_RIGHT, y, "base"),
    ]
    if row.limit is not None:
        parts.append(line(x_of(row.limit), top + 4, x_of(row.limit), top + height - 4, "limit"))
    for index, mph in enumerate(row.mph):
        x, at = x_of(mph), y + (-9, 0, 9)[index % 3]
        too_fast = row.limit is not None and mph > row.limit
        parts.append(_dot(x, at, f"{mph:.1f} scale mph", too_fast=too_fast))
    return joined(parts)


def _dot(x: float, y: float, words: str, *, too_fast: bool) -> Markup:
    if not too_fast:
        return titled(words, tag("circle", cx=x, cy=y, r=4.5, class_="pass"))
    points = f"{x:.1f},{y - 6:.1f} {x + 6:.1f},{y + 5:.1f} {x - 6:.1f},{y + 5:.1f}"
    return titled(f"{words}: over the limit", tag("polygon", points=points, class_="pass-over"))


@dataclass(frozen=True, slots=True)
class Bar:
    """One session's figure; ``None`` where it has none. ``here`` is the session told of."""

    name: str
    value: float | None
    here: bool = False


def trend_plot(label: str, bars: Sequence[Bar], form: str, ceiling: float | None = None) -> Markup:
    """Bars side by side, oldest first; this session's is filled. ``form`` is a format's spec."""
    width, height, floor = 280.0, 176.0, 136.0
    values = [bar.value for bar in bars if bar.value is not None]
    top = max([*values, ceiling or 0.0, 1e-9]) * 1.15
    slot = width / max(len(bars), 5)
    parts = [line(0, floor, width, floor, "base")]
    for index, bar in enumerate(bars):
        x = slot * index + slot * 0.14
        parts.append(_trend_bar(bar, x, slot * 0.72, (floor, top), form))
    if ceiling is not None:
        y = floor - ceiling / top * (floor - 24)
        parts.append(line(0, y, width, y, "ceiling"))
        parts.append(text(width, y - 5, f"ceiling {ceiling:g} %", "ceiling-word halo", "end"))
    return svg(width, height, label, *parts, class_="trend-plot")


def _trend_bar(bar: Bar, x: float, width: float, scale: tuple[float, float], form: str) -> Markup:
    floor, top = scale
    middle = x + width / 2
    parts = [text(middle, floor + 16, bar.name, "trend-here" if bar.here else "axis", "middle")]
    if bar.here:
        parts.append(text(middle, floor + 32, "this one", "trend-here", "middle"))
    if bar.value is None:
        parts.append(text(middle, floor - 6, "\N{EN DASH}", "value", "middle"))
        return titled(f"Session {bar.name}: no figure", *parts)
    tall = bar.value / top * (floor - 24)
    parts.append(box(x, floor - tall, width, max(tall, 1.0), "bar-here" if bar.here else "bar"))
    told = format(bar.value, form)
    parts.append(text(middle, floor - tall - 5, told, "value halo", "middle"))
    return titled(f"Session {bar.name}: {told}", *parts)


def count_bar(count: int, most: int) -> Markup:
    """A bar beside a count, which says nothing that the number does not."""
    width, height = 140.0, 14.0
    bar = box(1, 1, max(4.0, (width - 2) * count / max(most, 1)), height - 2, "bar")
    return tag(
        "svg", bar, viewBox=f"0 0 {width:g} {height:g}", class_="plot count-bar", aria_hidden="true"
    )
