"""A locomotive's speed curve, fitted to passes of a trap, and the settings that follow from it.

The means by drive level are made monotone by isotonic regression and joined by a monotone cubic
(PCHIP), both scipy's. numpy and scipy are loaded with this module, and by nothing that lives long.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.interpolate import PchipInterpolator
from scipy.optimize import isotonic_regression

from firmware_py.dynamics.drive import FULL_LEVEL, PLAIN_TRIM, TABLE_STEPS, Drive
from firmware_py.dynamics.sound import UnsoundError, above_zero, not_below_zero, whole

LEAST_LEVELS = 3
"""So many different throttle steps at which it moves, each way, make a curve."""

STANDS_MPH = 0.05
"""What is slower than this counts as standing."""

FINE = 1020
"""The curve is read back at quarter levels."""


@dataclass(frozen=True, slots=True)
class Run:
    """One pass of the trap: the throttle step, the way it ran, and scale mph; 0 is "stood"."""

    step: int
    forward: bool
    mph: float


Numbers = NDArray[np.float64]

_PLACES: Numbers = np.arange(FINE + 1, dtype=float)


@dataclass(frozen=True, slots=True, eq=False)
class Curve:
    """Scale mph against drive level, one way; ``grid_mph[i]`` is at level i / 4."""

    starts_at: float
    """The level up to which it stands: its dead band."""
    measured_to: float
    """The highest level that was measured."""
    grid_mph: Numbers

    @property
    def most_mph(self) -> float:
        """The fastest that was measured."""
        return float(self.grid_mph[-1])

    def mph(self, level: float) -> float:
        """The speed at a drive level; above the highest measured it is that at the highest."""
        place = min(max(level, 0.0), float(FULL_LEVEL)) * FINE / FULL_LEVEL
        return float(np.interp(place, _PLACES, self.grid_mph))

    def level(self, mph: float) -> float:
        """The lowest drive level that gives at least ``mph``."""
        wanted = not_below_zero("the speed", mph)
        if wanted > self.most_mph:
            raise UnsoundError(f"it was never measured above {self.most_mph:.1f} scale mph")
        grid = self.grid_mph
        here = int(np.searchsorted(grid, wanted))
        if here == 0 or wanted == 0:
            return self.starts_at
        below, above = grid[here - 1], grid[here]
        return float((here - 1 + (wanted - below) / (above - below)) * FULL_LEVEL / FINE)


def fit(runs: Sequence[Run], drive: Drive, *, forward: bool) -> Curve:
    """The curve of one direction. Raises ``UnsoundError`` if there is too little to go by."""
    way = "forward" if forward else "in reverse"
    mine = [run for run in runs if run.forward is forward]
    for run in mine:
        whole("the throttle step", run.step, 1, drive.steps)
        not_below_zero("a pass's speed", run.mph)
    seen: dict[float, list[float]] = {}
    for run in mine:
        seen.setdefault(drive.level(run.step), []).append(run.mph)
    stood = max((level for level, mph in seen.items() if max(mph) < STANDS_MPH), default=0.0)
    moving = sorted(level for level, mph in seen.items() if max(mph) >= STANDS_MPH)
    if len(moving) < LEAST_LEVELS:
        raise UnsoundError(
            f"{way}, it has moved at {len(moving)} throttle steps; {LEAST_LEVELS} different ones "
            "are needed at least, from slow to fast, and seven are better"
        )
    means = np.array(
        [np.mean([mph for mph in seen[level] if mph >= STANDS_MPH]) for level in moving]
    )
    weights = np.array([len(seen[level]) for level in moving], dtype=float)
    rising = isotonic_regression(means, weights=weights).x
    return _joined(np.array(moving), rising, min(stood, moving[0] - 1))


def _joined(levels: Numbers, mph: Numbers, stood: float) -> Curve:
    """Through the points, from where it starts to move, and level beyond the last."""
    slope = (mph[1] - mph[0]) / (levels[1] - levels[0])
    reach = mph[0] / slope if slope > 0 else levels[0]
    starts = float(max(stood, levels[0] - reach, 0.0))
    if starts >= levels[0]:
        starts = max(0.0, float(levels[0]) - 1.0)
    curve = PchipInterpolator(np.append(starts, levels), np.append(0.0, mph))
    grid = np.linspace(0, FULL_LEVEL, FINE + 1)
    read = np.where(grid <= starts, 0.0, curve(np.clip(grid, starts, levels[-1])))
    even = np.maximum.accumulate(np.maximum(read, 0.0))
    return Curve(starts, float(levels[-1]), even)


@dataclass(frozen=True, slots=True)
class Settings:
    """What to put into the decoder for a wanted top speed. It only advises.

    ``start``, ``middle`` and ``top`` are CV2, CV6 and CV5; ``table`` is CV67 to CV94;
    ``reverse_trim`` is CV95 with CV66 at 128.
    """

    start: int
    middle: int
    top: int
    table: tuple[int, ...]
    reverse_trim: int
    top_mph: float
    """What the rounded table should give at its top step."""


def settings(forward: Curve, reverse: Curve, top_mph: float) -> Settings:
    """The settings whose speed rises evenly, step by step, to ``top_mph`` at step 28."""
    wanted = above_zero("the wanted top speed", top_mph)
    most = min(forward.most_mph, reverse.most_mph)
    if wanted > most:
        raise UnsoundError(
            f"it was not measured above {most:.1f} scale mph both ways; "
            "ask for less, or measure it at higher throttle steps"
        )
    exact = [forward.level(wanted * step / TABLE_STEPS) for step in range(1, TABLE_STEPS + 1)]
    table = tuple(max(1, min(FULL_LEVEL, round(level))) for level in exact)
    trim = round(PLAIN_TRIM * reverse.level(wanted) / table[-1])
    return Settings(
        start=table[0],
        middle=table[TABLE_STEPS // 2 - 1],
        top=table[-1],
        table=table,
        reverse_trim=max(1, min(FULL_LEVEL, trim)),
        top_mph=forward.mph(table[-1]),
    )
