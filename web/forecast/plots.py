"""The forecast drawn: when each job ends, and the whole, against the end of the evening. Pure."""

from __future__ import annotations

import math
import statistics
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field
from itertools import pairwise

from markupsafe import Markup

from firmware_py.forecast.words import Ends
from web.debrief.drawing import box, joined, line, shortened, svg, tag, text, titled
from web.debrief.times import axis_ticks
from web.forecast.said import hours, percent

X = Callable[[float], float]


@dataclass(frozen=True, slots=True)
class Shape:
    """How wide the drawing is: labels stand beside the bars, or above them on a phone."""

    width: float
    left: float
    right: float
    row: float
    whole: float
    narrow: bool


WIDE = Shape(760.0, 186.0, 84.0, 34.0, 84.0, narrow=False)
NARROW = Shape(340.0, 4.0, 50.0, 50.0, 92.0, narrow=True)
TOP = 44.0
STEPS = 80


@dataclass(frozen=True, slots=True)
class Ending:
    """What is drawn: the whole, each job, and when the evening ends.

    ``out`` are the jobs that had better be left out; ``facts`` is when they did end, by job.
    """

    whole: Ends
    jobs: Sequence[Ends]
    end_s: float
    out: frozenset[int] = frozenset()
    facts: Mapping[int, float] = field(default_factory=dict)


def forecast_plot(of: Ending, shape: Shape) -> Markup:
    """The whole as a hill, each job as a bar; what lies behind the line comes too late."""
    whole, jobs, end_s = of.whole, of.jobs, of.end_s
    ends = [one.curve[-1] for one in (whole, *jobs)]
    last_s = max([end_s * 1.12, *ends, *(t * 1.05 for t in of.facts.values())])
    room = shape.width - shape.left - shape.right

    def x_of(seconds: float) -> float:
        return shape.left + min(max(seconds, 0.0), last_s) / last_s * room

    floor = TOP + shape.whole
    bottom = floor + 14 + shape.row * len(jobs)
    prefix = "narrow" if shape.narrow else "wide"
    parts = [_patterns(prefix), _late(x_of(end_s), x_of(last_s), bottom, prefix)]
    parts.append(_axis(last_s, x_of, bottom, shape))
    parts.append(_hill(whole, x_of, floor, end_s, prefix))
    parts.append(_label("Everything", "", whole, floor - 30, shape))
    for index, job in enumerate(jobs):
        top = floor + 14 + shape.row * index
        parts.append(_bar(job, x_of, top, shape, left_out=job.job in of.out))
        parts.append(_fact(of.facts.get(job.job), x_of, _middle_of(top, shape)))
    parts.append(_fact(of.facts.get(0), x_of, floor - 8))
    parts.append(line(x_of(end_s), TOP - 12, x_of(end_s), bottom, "evening-end"))
    words = f"evening ends {hours(end_s)}"
    anchor = "end" if x_of(end_s) > shape.width / 2 else "start"
    parts.append(text(x_of(end_s), TOP - 28, words, "evening-end-word halo", anchor))
    label = f"When {len(jobs)} jobs end, against the evening's end at {hours(end_s)}"
    return svg(shape.width, bottom + 6, label, *parts, class_=f"ends-plot {prefix}-plot")


def _patterns(prefix: str) -> Markup:
    slash = line(0, 8, 8, 0, "line-late")
    ground = tag("rect", width=8, height=8, class_="ground-late")
    units = "userSpaceOnUse"
    late = tag("pattern", ground, slash, id=f"{prefix}-late", width=8, height=8, patternUnits=units)
    return tag("defs", late)


def _late(begin: float, end: float, bottom: float, prefix: str) -> Markup:
    """The ground behind the evening's end."""
    if end <= begin:
        return Markup("")
    return box(begin, TOP - 12, end - begin, bottom - TOP + 12, "late", fill=f"url(#{prefix}-late)")


def _axis(last_s: float, x_of: X, bottom: float, shape: Shape) -> Markup:
    parts = []
    for at_us, word in axis_ticks(round(last_s * 1e6), 5 if shape.narrow else 9):
        x = x_of(at_us / 1e6)
        parts.append(line(x, TOP - 8, x, bottom, "grid"))
        parts.append(text(x, TOP - 13, word, "axis", "start" if x < 12 else "middle"))
    return joined(parts)


def _hill(whole: Ends, x_of: X, floor: float, end_s: float, prefix: str) -> Markup:
    """How likely each moment is, as a height; what is too late is cut off and hatched."""
    points = _density(whole.curve)
    most = max(height for _, height in points)
    tall = 62.0
    scaled = [(t, floor - tall * height / most) for t, height in points]
    early = [(t, y) for t, y in scaled if t <= end_s]
    late = [(t, y) for t, y in scaled if t >= end_s]
    crossing = _between(scaled, end_s)
    if early and late and crossing is not None:
        early.append((end_s, crossing))
        late.insert(0, (end_s, crossing))
    parts = [line(x_of(0), floor, x_of(1e12), floor, "base")]
    parts += [
        _area(part, x_of, floor, f"hill {kind}")
        for part, kind in ((early, "early"), (late, "too-late"))
        if len(part) > 1
    ]
    for share, word in ((whole.low, "9 in 10 later"), (whole.high, "9 in 10 earlier")):
        x = x_of(share.value)
        parts.append(
            titled(
                f"{word} than {hours(share.value)}", line(x, floor - 8, x, floor + 5, "hill-edge")
            )
        )
    x = x_of(whole.middle.value)
    parts.append(line(x, floor - tall - 2, x, floor + 5, "hill-middle"))
    parts.append(text(x, floor - tall - 5, hours(whole.middle.value), "value halo", "middle"))
    return titled(_told("Everything", whole), *parts)


def _density(curve: Sequence[float]) -> list[tuple[float, float]]:
    """Heights along a curve of percentiles: a kernel density of Silverman's width."""
    spread = statistics.stdev(curve)
    width = max(0.9 * spread * len(curve) ** -0.2 * 1.6, 5.0)
    first, last = max(0.0, curve[0] - 2 * width), curve[-1] + 2 * width
    moments = [first + (last - first) * at / STEPS for at in range(STEPS + 1)]
    return [(t, sum(math.exp(-(((t - one) / width) ** 2) / 2) for one in curve)) for t in moments]


def _between(points: Sequence[tuple[float, float]], at: float) -> float | None:
    for (t0, y0), (t1, y1) in pairwise(points):
        if t0 <= at <= t1:
            return y0 + (y1 - y0) * ((at - t0) / (t1 - t0) if t1 > t0 else 0.0)
    return None


def _area(points: Sequence[tuple[float, float]], x_of: X, floor: float, class_: str) -> Markup:
    ends = [(points[0][0], floor), *points, (points[-1][0], floor)]
    drawn = " ".join(f"{x_of(t):.1f},{y:.1f}" for t, y in ends)
    return tag("polygon", points=drawn, class_=class_)


def _bar(job: Ends, x_of: X, top: float, shape: Shape, *, left_out: bool) -> Markup:
    y = _middle_of(top, shape)
    low, high = x_of(job.low.value), x_of(job.high.value)
    kind = "ends-bar left-out" if left_out else "ends-bar"
    parts = [
        line(x_of(job.curve[1]), y, x_of(job.curve[-2]), y, "whisker"),
        box(low, y - 8, high - low, 16, kind),
        line(x_of(job.middle.value), y - 10, x_of(job.middle.value), y + 10, "usual-median"),
    ]
    under = "leave out" if left_out else ""
    return titled(_told(job.name, job), *parts, _label(job.name, under, job, y, shape))


def _middle_of(top: float, shape: Shape) -> float:
    return top + (34 if shape.narrow else shape.row / 2)


def _fact(at_s: float | None, x_of: X, y: float) -> Markup:
    """A diamond where something did end."""
    if at_s is None:
        return Markup("")
    x = x_of(at_s)
    points = f"{x:.1f},{y - 9:.1f} {x + 7:.1f},{y:.1f} {x:.1f},{y + 9:.1f} {x - 7:.1f},{y:.1f}"
    return titled(f"it ended at {hours(at_s)}", tag("polygon", points=points, class_="fact"))


def _label(name: str, under: str, ends: Ends, y: float, shape: Shape) -> Markup:
    """The name, and the chance of being done in time."""
    chance = text(shape.width, y + 5, percent(ends.chance.value), "chance", "end")
    if shape.narrow:
        said = f"{name}: {under}" if under else name
        place = 12.0 if ends.job == 0 else y - 15
        if ends.job == 0:
            return chance
        return joined(
            (text(0, place, shortened(said, shape.width - 60, 8.0), "row-label halo"), chance)
        )
    parts = [text(0, y + (0 if under else 5), shortened(name, shape.left - 14, 8.2), "row-label")]
    if under:
        parts.append(text(0, y + 14, under, "row-under left-out-word"))
    return joined((*parts, chance))


def _told(name: str, ends: Ends) -> str:
    low, mid, high = (hours(one.value) for one in (ends.low, ends.middle, ends.high))
    return f"{name}: about {mid}, mostly {low} to {high}; in time with {percent(ends.chance.value)}"


def share_bar(share_percent: float, ceiling: float) -> Markup:
    """A share of waiting as a short bar, with the ceiling marked on it; both in per cent."""
    most = max(100.0 * 0.4, ceiling * 1.3, share_percent)
    wide = 160.0
    parts = [
        box(0, 3, wide, 12, "share-ground"),
        box(0, 3, wide * share_percent / most, 12, "share-bar"),
        line(wide * ceiling / most, 0, wide * ceiling / most, 18, "ceiling"),
    ]
    return tag(
        "svg",
        *parts,
        viewBox="0 0 160 18",
        class_="plot share-plot",
        aria_hidden="true",
        focusable="false",
    )
