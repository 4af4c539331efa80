"""What earlier forecasts teach: whether evenings end later, or spread wider, than was thought.

Each fact has a place in the forecast of its evening: 0.5 is its middle. Were the forecasts right,
places would be even from 0 to 1; a lasting bend of them is straightened (recalibration of the
probability integral transform). Light: no numpy.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from statistics import NormalDist

_NORMAL = NormalDist()
WEIGHT = 8.0
"""How many evenings weigh as much as the belief that the forecast is right as it is."""
_EDGE = 0.004
MOST = 40
"""The last evenings that are learnt from: groups and layouts change."""


@dataclass(frozen=True, slots=True)
class Lesson:
    """``shift`` and ``stretch`` of the places' normal scores; 0 and 1 where nothing is to learn."""

    shift: float = 0.0
    stretch: float = 1.0
    count: int = 0

    def bend(self, share: float) -> float:
        """The share of simulated evenings that stands for a share of real ones."""
        if share <= 0.0 or share >= 1.0:
            return min(max(share, 0.0), 1.0)
        return _NORMAL.cdf(self.shift + self.stretch * _NORMAL.inv_cdf(share))

    def unbend(self, share: float) -> float:
        """The share of real evenings that a share of simulated ones stands for."""
        if share <= 0.0 or share >= 1.0:
            return min(max(share, 0.0), 1.0)
        return _NORMAL.cdf((_NORMAL.inv_cdf(share) - self.shift) / self.stretch)


def lesson_of(places: Sequence[float]) -> Lesson:
    """Learn from the last places, oldest first; each is from 0 to 1."""
    scores = [
        _NORMAL.inv_cdf(min(max(place, _EDGE), 1 - _EDGE))
        for place in places[-MOST:]
        if math.isfinite(place)
    ]
    count = len(scores)
    if not count:
        return Lesson()
    shift = sum(scores) / (count + WEIGHT)
    squares = sum((score - shift) ** 2 for score in scores)
    stretch = math.sqrt((squares + WEIGHT) / (count + WEIGHT))
    return Lesson(shift, stretch, count)


def place_of(fact_s: float, raw: Sequence[float], *, ended: bool = True) -> float:
    """Where a fact falls in a forecast's raw curve (1, 2, ... of 100), from 0 to 1.

    Of something that had not ended by ``fact_s`` only that much is known: the middle of what is
    left is taken.
    """
    below = sum(t <= fact_s for t in raw)
    if not raw:
        return 0.5
    if 0 < below < len(raw):
        width = raw[below] - raw[below - 1]
        below_part = below + ((fact_s - raw[below - 1]) / width if width > 0 else 0.5)
    else:
        below_part = below + 0.5 if below else 0.5
    place = min(below_part / (len(raw) + 1), 1.0)
    return place if ended else (place + 1.0) / 2
