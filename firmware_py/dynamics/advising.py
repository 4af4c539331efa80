"""From a locomotive's passes to its advice: one question, one answer, both plain records.

Loads numpy and scipy, so it is imported only where a process ends with the answer.
"""

from __future__ import annotations

import msgspec

from firmware_py.dynamics.drive import Drive
from firmware_py.dynamics.scale_speed import model_mm_per_s
from firmware_py.dynamics.sound import above_zero
from firmware_py.dynamics.stopping import NONE, Braking, Correction, braking, correction_of
from firmware_py.dynamics.throttle import Curve, Run, Settings, fit, settings

PLOT_LEVELS = 52
EVERYDAY = 0.5
"""Of what the engine can do: a local's everyday speed (common practice)."""


class Measured(msgspec.Struct, frozen=True, forbid_unknown_fields=True):
    """A stop that was measured with the settings advised: from ``from_step`` to rest.

    ``cv4`` is what was in force, ``entry_mph`` what the trap showed just before, if it did.
    """

    cv4: int
    from_step: int
    stopped_mm: float
    entry_mph: float | None = None


class Question(msgspec.Struct, frozen=True, forbid_unknown_fields=True):
    """What was measured, and what is wanted; without a wanted top, half of what it can do.

    ``away_mm`` is how far it may run until it is at full speed; left out, as far as it stops in.
    """

    ratio: float
    runs: tuple[Run, ...]
    stop_mm: float
    drive: Drive = Drive()
    top_mph: float | None = None
    away_mm: float | None = None
    measured: Measured | None = None


class Points(msgspec.Struct, frozen=True):
    """One direction's curve, to be drawn: speed by drive level, and where it starts to move."""

    starts_at: float
    most_mph: float
    levels: tuple[float, ...]
    mph: tuple[float, ...]


class Advice(msgspec.Struct, frozen=True):
    """The answer; ``correction`` is the measured stop's."""

    everyday_mph: float
    top_mph: float
    settings: Settings
    table_mph: tuple[float, ...]
    braking: Braking
    away: Braking
    correction: Correction
    again: tuple[int, ...]
    """The measured steps about the wanted top speed: further passes there serve best."""
    forward: Points
    reverse: Points


def advise(question: Question) -> Advice:
    """Fit both directions and work out every setting. Raises ``UnsoundError``."""
    above_zero("the scale's ratio", question.ratio)
    forward = fit(question.runs, question.drive, forward=True)
    reverse = fit(question.runs, question.drive, forward=False)
    everyday = EVERYDAY * min(forward.most_mph, reverse.most_mph)
    top = everyday if question.top_mph is None else question.top_mph
    found = settings(forward, reverse, top)
    table_mph = tuple(forward.mph(level) for level in found.table)
    speeds = tuple(model_mm_per_s(mph, question.ratio) for mph in table_mph)
    correction = _correction(question, speeds)
    away = question.stop_mm if question.away_mm is None else question.away_mm
    return Advice(
        everyday_mph=everyday,
        top_mph=top,
        settings=found,
        table_mph=table_mph,
        braking=braking(speeds, question.stop_mm, correction),
        away=braking(speeds, away),
        correction=correction,
        again=_about(question, float(found.table[-1])),
        forward=_points(forward),
        reverse=_points(reverse),
    )


def _correction(question: Question, speeds: tuple[float, ...]) -> Correction:
    stop = question.measured
    if stop is None:
        return NONE
    entry = stop.entry_mph
    entry_mm_s = None if entry is None else model_mm_per_s(entry, question.ratio)
    return correction_of(speeds, stop.cv4, stop.from_step, stop.stopped_mm, entry_mm_s)


def _about(question: Question, level: float) -> tuple[int, ...]:
    steps = sorted({run.step for run in question.runs if run.mph > 0})
    below = [step for step in steps if question.drive.level(step) <= level]
    above = [step for step in steps if question.drive.level(step) > level]
    return (*below[-1:], *above[:1])


def _points(curve: Curve) -> Points:
    levels = tuple(curve.measured_to * number / PLOT_LEVELS for number in range(PLOT_LEVELS + 1))
    return Points(
        curve.starts_at, curve.most_mph, levels, tuple(curve.mph(level) for level in levels)
    )
