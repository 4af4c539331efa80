"""Figures of many evenings, each with how far chance alone may have moved it.

Errors are half-widths of 95 per cent intervals: of a mean by its standard error, of a share by
Wilson's interval, of a quantile by the order statistics around it (binomial). See any text on
the analysis of simulations.
"""

from __future__ import annotations

import math

import numpy as np

from firmware_py.forecast.lessons import Lesson
from firmware_py.forecast.pert import Numbers
from firmware_py.forecast.words import Band, Ends, Figure

Z95 = 1.959964
CURVE = np.arange(1, 100) / 100
LOW, MIDDLE, HIGH = 0.1, 0.5, 0.9


def mean_of(values: Numbers) -> Figure:
    """The mean."""
    return mean_of_sums(len(values), float(values.sum()), float((values**2).sum()))


def mean_of_sums(count: int, total: float, squares: float) -> Figure:
    """The mean of so many values, from their sum and that of their squares."""
    mean = total / count
    variance = max(0.0, squares - count * mean**2) / (count - 1) if count > 1 else 0.0
    return Figure(mean, Z95 * math.sqrt(variance / count))


def share_of(hits: int, count: int) -> Figure:
    """A share of evenings, from 0 to 1."""
    share = hits / count
    z2 = Z95**2
    half = Z95 * math.sqrt(share * (1 - share) / count + z2 / (4 * count**2)) / (1 + z2 / count)
    centre = (share + z2 / (2 * count)) / (1 + z2 / count)
    return Figure(share, max(abs(centre + half - share), abs(share - centre + half)))


def quantile_of(ordered: Numbers, share: float) -> Figure:
    """The value that a share of the ordered values stays below."""
    half = Z95 * math.sqrt(share * (1 - share) / len(ordered))
    ends = np.quantile(ordered, [max(0.0, share - half), min(1.0, share + half)])
    value = float(np.quantile(ordered, share))
    return Figure(value, max(float(ends[1]) - value, value - float(ends[0])))


def ends_of(
    about: tuple[int, str],
    times: Numbers,
    within_s: float,
    lesson: Lesson,
    bounds: tuple[Numbers, Numbers],
) -> Ends:
    """All that is told of the end of ``about``: a job's id (0 for the whole) and its name.

    ``bounds`` are the same end with independent and with tied times.
    """
    ordered = np.sort(times)
    bent = [lesson.bend(float(share)) for share in CURVE]
    low, middle, high = (quantile_of(ordered, lesson.bend(share)) for share in (LOW, MIDDLE, HIGH))
    curve = tuple(round(float(t), 2) for t in np.quantile(ordered, bent))
    raw = tuple(round(float(t), 2) for t in np.quantile(ordered, CURVE))
    independent, together = (_band(np.sort(one)) for one in bounds)
    chance = chance_of(ordered, within_s, lesson)
    return Ends(
        *about, low, middle, high, chance, mean_of(times), curve, raw, independent, together
    )


def chance_of(ordered: Numbers, within_s: float, lesson: Lesson) -> Figure:
    """The chance of an end within a time, corrected by what earlier evenings taught."""
    raw = share_of(int(np.searchsorted(ordered, within_s, side="right")), len(ordered))
    value = lesson.unbend(raw.value)
    low, high = (lesson.unbend(raw.value + sign * raw.error) for sign in (-1, 1))
    return Figure(value, max(high - value, value - low))


def _band(ordered: Numbers) -> Band:
    low, middle, high = (float(t) for t in np.quantile(ordered, (LOW, MIDDLE, HIGH)))
    return Band(round(low, 2), round(middle, 2), round(high, 2))
