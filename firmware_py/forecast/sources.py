"""Where each time is drawn from: the log's own times from twenty on, before that a beta-PERT."""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

import numpy as np

from firmware_py.forecast.effects import Effects, effects_of
from firmware_py.forecast.pert import Numbers, Pert
from firmware_py.forecast.sampling import (
    ANSWER_KEY,
    START_KEY,
    TRAVEL_KEY,
    Key,
    Sample,
    Standing,
    samples_of,
)
from firmware_py.forecast.usual import usual
from firmware_py.forecast.words import Known, Past, SpurPlan

ENOUGH = 20
"""Times from which on the log alone tells how long a step takes."""
WEIGHT = 4.0
"""How many measured times weigh as much as what is usual elsewhere."""
GRID = 256
_AT = (np.arange(GRID) + 0.5) / GRID


@dataclass(frozen=True, slots=True)
class Source:
    """A distribution as its quantiles at ``GRID`` even shares. ``count`` are times in the log."""

    table: Numbers
    count: int
    measured: bool
    low: float
    likely: float
    high: float

    def at(self, shares: Numbers) -> Numbers:
        """The times that these shares (0 up to 1) of all stay below, in their shape."""
        return self.table[np.minimum((shares * GRID).astype(np.intp), GRID - 1)]


class Sources:
    """All of them, by step and by how well the crew knows the layout."""

    def __init__(self, past: Iterable[Past], spurs: Sequence[SpurPlan]) -> None:
        samples = samples_of(past, spurs)
        self.effects: Effects = effects_of(samples)
        self._times: dict[Key, list[Sample]] = defaultdict(list)
        for one in samples:
            self._times[one.key].append(one)
        self._kinds = {
            Key(spur.id, step.phase, step.step): step.kind for spur in spurs for step in spur.steps
        }
        self._kinds |= {key: key.step for key in (START_KEY, TRAVEL_KEY, ANSWER_KEY)}
        self._made: dict[tuple[Key, Standing], Source] = {}

    def of(self, key: Key, standing: Standing = Standing.UNKNOWN) -> Source:
        """The distribution of a step's time for a crew of this standing."""
        if (key, standing) not in self._made:
            self._made[key, standing] = self._make(key, standing)
        return self._made[key, standing]

    def known(self) -> list[Known]:
        """How each step's time is known, for a crew of which nothing is."""
        found = []
        for key, kind in self._kinds.items():
            if (key.phase, kind) == ("opening", "foreman"):
                continue  # His answer is told apart from what the crew does.
            one = self.of(key)
            low, likely, high = (round(t, 2) for t in (one.low, one.likely, one.high))
            found.append(Known(*key, one.count, one.measured, low, likely, high))
        return found

    def _make(self, key: Key, standing: Standing) -> Source:
        every = self._times.get(key, [])
        mine = [one for one in every if one.standing is standing]
        effects = self.effects
        own = effects.of_standing(standing)
        if len(mine) >= ENOUGH:
            # This standing's own times; what is shared comes back with each evening drawn.
            return _measured(np.array([effects.alike(one) * own for one in mine]))
        times = np.array([effects.alike(one) * own for one in every], dtype=np.float64)
        return (
            _measured(times) if len(times) >= ENOUGH else _estimated(key, self._kinds[key], times)
        )


def _measured(times: Numbers) -> Source:
    low, likely, high = (float(t) for t in np.quantile(times, (0.05, 0.5, 0.95)))
    return Source(np.quantile(times, _AT), len(times), True, low, likely, high)


def _estimated(key: Key, kind: str, times: Numbers) -> Source:
    """What is usual, moved towards the few times that are measured and wide enough for them."""
    base = Pert(*usual(key.phase, kind))
    count = len(times)
    if count:
        logs = np.log(np.maximum(times, 0.5) / max(base.likely, 0.5))
        base = base.times(math.exp(float(logs.sum()) / (count + WEIGHT)))
        low, high = float(times.min()), float(times.max())
        base = Pert(min(base.low, low), base.likely, max(base.high, high))
    return Source(base.quantiles(_AT), count, False, base.low, base.likely, base.high)


def even(low: float, high: float) -> Source:
    """Any time from ``low`` to ``high``, all as likely: an automatic foreman's answer."""
    table = low + (high - low) * _AT
    return Source(table, 0, True, low, (low + high) / 2, high)
