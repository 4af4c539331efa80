"""Measuring two things in turn, so that a machine that drifts drifts for both."""

from __future__ import annotations

import gc
import statistics
import time
from collections.abc import Callable
from dataclasses import dataclass

ROUNDS = 25


@dataclass(frozen=True, slots=True)
class Pair:
    """Two medians of the same run, in seconds for one unit of work."""

    ours: float
    baseline: float

    @property
    def ratio(self) -> float:
        """How many times as long ours takes."""
        return self.ours / self.baseline


def in_turn(ours: Callable[[], int], baseline: Callable[[], int], rounds: int = ROUNDS) -> Pair:
    """Time both in turn; each does some work and answers how many units it was.

    Processor time, not the wall's: what other processes do on the machine is not ours.
    """
    times: tuple[list[float], list[float]] = ([], [])
    for work in (ours, baseline):
        work()
    for _ in range(rounds):
        for place, work in enumerate((ours, baseline)):
            gc.collect()
            began = time.process_time()
            units = work()
            times[place].append((time.process_time() - began) / units)
    return Pair(statistics.median(times[0]), statistics.median(times[1]))
