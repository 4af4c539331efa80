"""The evening along a line of time: one row for each spur, one for each job. Pure."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

from markupsafe import Markup

from firmware_py.logbook.records import ViolationRecord
from web.debrief.drawing import (
    box,
    fits,
    joined,
    line,
    patterns,
    shortened,
    svg,
    tag,
    text,
    titled,
)
from web.debrief.evening import Span, Wait, WaitFor
from web.debrief.marks import drawn_marks
from web.debrief.times import axis_ticks, clock, lasting

WIDTH = 1000.0
LEFT = 184.0
RIGHT = 20.0
MARKS_H, BAND_H, PHASE_H, WAIT_H, GAP = 20.0, 24.0, 15.0, 11.0, 3.0
ROW_PAD = 12.0
AXIS_H = 24.0
LEGEND_H = 52.0

STAGE_WORDS = {
    "unlocked": "unlocked",
    "lined": "lined",
    "in-use": "in use",
    "restored": "restored",
    "irregular": "irregular",
}
WAIT_WORDS = {WaitFor.FOREMAN: "waiting for the foreman", WaitFor.BRAKE_TEST: "brake test"}


@dataclass(frozen=True, slots=True)
class Line:
    """One row. ``bands`` are stages of a switch, or for a job the spurs it worked.

    ``words`` is what a band's word is called; ``phases`` are empty for a job.
    """

    name: str
    under: str
    bands: Sequence[Span]
    phases: Sequence[Span]
    waits: Sequence[Wait]
    violations: Sequence[ViolationRecord]

    @property
    def height(self) -> float:
        """How much room it takes."""
        phase = PHASE_H + GAP if self.phases else 0.0
        wait = WAIT_H + GAP if self.waits else 0.0
        return MARKS_H + BAND_H + GAP + phase + wait + ROW_PAD


def timeline(
    label: str,
    lines: Sequence[Line],
    length_us: int,
    prefix: str,
    says: Callable[[ViolationRecord], str],
) -> Markup:
    """The drawing. ``says`` puts a violation into a few words; ``prefix`` keeps ids apart."""
    scale = (WIDTH - LEFT - RIGHT) / max(length_us, 1)

    def x_of(t_us: int) -> float:
        return LEFT + t_us * scale

    rows: list[Markup] = []
    y = AXIS_H
    for one in lines:
        rows.append(_row(one, y, x_of, prefix, says))
        y += one.height
    legend = _legend(y + 22, prefix, stages=any(one.phases for one in lines))
    axis = _axis(length_us, x_of, y)
    return svg(WIDTH, y + LEGEND_H, label, patterns(prefix), axis, *rows, legend, class_="timeline")


def _axis(length_us: int, x_of: Callable[[int], float], bottom: float) -> Markup:
    parts = []
    for at_us, label in axis_ticks(length_us):
        x = x_of(at_us)
        parts.append(line(x, AXIS_H - 6, x, bottom, "grid"))
        parts.append(text(x, AXIS_H - 9, label, "axis", "middle"))
    return joined(parts)


def _row(
    one: Line,
    top: float,
    x_of: Callable[[int], float],
    prefix: str,
    says: Callable[[ViolationRecord], str],
) -> Markup:
    band_y = top + MARKS_H
    phase_y = band_y + BAND_H + GAP
    wait_y = phase_y + (PHASE_H + GAP if one.phases else 0.0)
    end_us_x = WIDTH - RIGHT
    return joined(
        (
            _label(one, band_y),
            line(LEFT, band_y + BAND_H / 2, end_us_x, band_y + BAND_H / 2, "base"),
            joined(_band(span, band_y, x_of, prefix) for span in one.bands),
            joined(_phase(span, phase_y, x_of) for span in one.phases),
            joined(_wait(wait, wait_y, x_of, prefix) for wait in one.waits),
            drawn_marks(one.violations, x_of, band_y - 9, says),
            line(0, top + one.height - 4, end_us_x, top + one.height - 4, "parting"),
        )
    )


def _label(one: Line, band_y: float) -> Markup:
    """Whose row it is; where that had to be cut, it is told in full where it is pointed at."""
    name, under = shortened(one.name, LEFT - 8, 8.0), shortened(one.under, LEFT - 8, 6.4)
    words = text(0, band_y + (10 if one.under else 17), name, "row-label")
    below = text(0, band_y + 26, under, "row-under")
    if (name, under) == (one.name, one.under):
        return joined((words, below))
    return titled(", ".join(filter(None, (one.name, one.under))), words, below)


def _tells(words: str, began_us: int, ended_us: int, *, still: bool) -> str:
    until = "still so at the end" if still else f"until {clock(ended_us)}"
    return f"{words}: {lasting(ended_us - began_us)}, from {clock(began_us)}, {until}"


def _band(span: Span, y: float, x_of: Callable[[int], float], prefix: str) -> Markup:
    x, width = x_of(span.began_us), x_of(span.ended_us) - x_of(span.began_us)
    word = STAGE_WORDS.get(span.word, span.word)
    patterned = span.word in STAGE_WORDS and span.word != "in-use"
    fill = f"url(#{prefix}-{span.word})" if patterned else None
    kind = span.word if span.word in STAGE_WORDS else "job"
    shape = box(x, y, width, BAND_H, f"band band-{kind}", fill=fill)
    words = shortened(word, width - 6) if kind == "job" and width > 30 else word
    label = (
        text(x + width / 2, y + 16, words, f"band-word word-{kind}", "middle")
        if fits(words, width)
        else Markup("")
    )
    return titled(_tells(word, span.began_us, span.ended_us, still=span.open), shape, label)


def _phase(span: Span, y: float, x_of: Callable[[int], float]) -> Markup:
    x, width = x_of(span.began_us), x_of(span.ended_us) - x_of(span.began_us)
    shape = box(x, y, width, PHASE_H, f"phase phase-{span.word}")
    word = (
        text(x + width / 2, y + 11.5, span.word, f"phase-word word-{span.word}", "middle")
        if fits(span.word, width, 6.2)
        else Markup("")
    )
    return titled(_tells(span.word, span.began_us, span.ended_us, still=span.open), shape, word)


def _wait(wait: Wait, y: float, x_of: Callable[[int], float], prefix: str) -> Markup:
    x, width = x_of(wait.began_us), x_of(wait.ended_us) - x_of(wait.began_us)
    shape = box(x, y, width, WAIT_H, "wait", fill=f"url(#{prefix}-{wait.what})")
    ending = f" ({wait.ending})" if wait.ending else ""
    words = f"{WAIT_WORDS[wait.what]}{ending}"
    return titled(_tells(words, wait.began_us, wait.ended_us, still=wait.open), shape)


def _legend(y: float, prefix: str, *, stages: bool) -> Markup:
    items: list[tuple[Markup, str]] = []
    if stages:
        for stage, word in STAGE_WORDS.items():
            fill = None if stage == "in-use" else f"url(#{prefix}-{stage})"
            items.append((box(0, 0, 26, 14, f"band band-{stage}", fill=fill), word))
        for phase in ("opening", "working", "closing"):
            items.append((box(0, 0, 26, 14, f"phase phase-{phase}"), phase))
    else:
        items.append((box(0, 0, 26, 14, "band band-job"), "at a spur"))
    for what, word in ((WaitFor.FOREMAN, "waits for foreman"), (WaitFor.BRAKE_TEST, "brake test")):
        items.append((box(0, 0, 26, 11, "wait", fill=f"url(#{prefix}-{what})"), word))
    items.append((box(0, 0, 20, 14, "violation-mark", rx=7), "violation"))
    return _laid_out(items, y)


def _laid_out(items: Sequence[tuple[Markup, str]], y: float) -> Markup:
    x, parts = 0.0, []
    for shape, word in items:
        wide = 31 + 6.3 * len(word) + 14
        if x + wide > WIDTH:
            x, y = 0.0, y + 22
        parts.append(tag("g", shape, transform=f"translate({x:.1f} {y - 12:.1f})"))
        parts.append(text(x + 31, y, word, "legend"))
        x += wide
    return joined(parts)
