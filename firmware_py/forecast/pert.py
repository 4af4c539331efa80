"""Beta-PERT: a time from its lowest, likely and highest value.

Mean (a + 4m + b) / 6, shapes 1 + 4(m - a)/(b - a) and 1 + 4(b - m)/(b - a), and variance
(mean - a)(b - mean) / 7: the usual reading of PERT's three points. The curve is scipy's beta.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy import stats

from firmware_py.forecast.words import ForecastError

Numbers = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class Pert:
    """``low`` <= ``likely`` <= ``high``, all finite. Raises ``ForecastError`` otherwise."""

    low: float
    likely: float
    high: float

    def __post_init__(self) -> None:
        ends = (self.low, self.likely, self.high)
        if not all(map(math.isfinite, ends)) or not 0 <= self.low <= self.likely <= self.high:
            raise ForecastError(
                f"an estimate goes from low over likely to high, each 0 or more; not {ends}"
            )

    @property
    def mean(self) -> float:
        """The mean."""
        return (self.low + 4 * self.likely + self.high) / 6

    @property
    def sigma(self) -> float:
        """The curve's own standard deviation, which is not (high - low) / 6."""
        return math.sqrt((self.mean - self.low) * (self.high - self.mean) / 7)

    @property
    def alpha(self) -> float:
        """The beta curve's first shape."""
        return 1 + 4 * (self.likely - self.low) / (self.high - self.low)

    @property
    def beta(self) -> float:
        """The beta curve's second shape."""
        return 1 + 4 * (self.high - self.likely) / (self.high - self.low)

    def quantiles(self, at: Numbers) -> Numbers:
        """The values that shares ``at`` of all times stay below, of the same shape."""
        if self.high == self.low:
            return np.full_like(at, self.low)
        shape = stats.beta(self.alpha, self.beta, loc=self.low, scale=self.high - self.low)
        return np.asarray(shape.ppf(at), dtype=np.float64)

    def times(self, factor: float) -> Pert:
        """All of it longer or shorter."""
        return Pert(self.low * factor, self.likely * factor, self.high * factor)
