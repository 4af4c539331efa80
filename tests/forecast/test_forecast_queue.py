"""The simulation's skeleton against queueing theory: M/M/1, M/D/1 and Little's law.

The host as foreman is the server: crews whose whole work is one question. Formulas (any text on
queues): W = 1 / (mu - lambda), M/D/1's wait in the queue half of M/M/1's, L = lambda W. Vector:
4 questions an hour, 10 minutes each: W = 30 min, Wq = 20 min (M/D/1: 10 min), L = 2.
"""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
import pytest

from firmware_py.forecast.drawing import AFTER, ANSWERED, BEFORE, PARTS, WAY
from firmware_py.forecast.simulating import play
from firmware_py.forecast.words import JobPlan, Question, SpurPlan, StopPlan
from firmware_py.layout.model import ForemanKind

HOUR = 3600.0
CALLS = 1_500
EVENINGS = 24


class Arrivals:
    """In the place of drawn times: crews that come at random and ask one question each."""

    def __init__(self, serve: Callable[[np.random.Generator], float]) -> None:
        self.rng = np.random.default_rng(7)
        self.serve = serve
        self.came: list[float] = []

    def block(self, job: JobPlan, number: int, tie: object) -> np.ndarray:
        rows = np.zeros((EVENINGS, 1 + PARTS))
        if job.id == 1:
            self.came = [0.0] * EVENINGS
        for at in range(EVENINGS):
            self.came[at] += self.rng.exponential(HOUR / 4)
            rows[at, 0] = rows[at, 1 + WAY] = self.came[at]
            rows[at, 1 + ANSWERED] = self.serve(self.rng)
        assert BEFORE != AFTER
        return rows


def queue(serve: Callable[[np.random.Generator], float]) -> tuple[float, float, float, float]:
    """The mean wait in the queue in minutes, the mean number there, calls an hour, and rho."""
    spur = SpurPlan("dock", "Dock", ForemanKind.HOST, (0, 0), (), ())
    jobs = [JobPlan(at + 1, f"Call {at}", stops=(StopPlan("dock"),)) for at in range(CALLS)]
    question = Question((spur,), {}, 6.0, tuple(jobs), crews=CALLS, minutes=60)
    played = play(question, jobs, Arrivals(serve), EVENINGS)  # type: ignore[arg-type]
    waits = played.waits["foreman"]
    length_s = float(played.whole.sum())
    waited_s = waits.sum_s
    rate = CALLS * EVENINGS / length_s * HOUR
    return waited_s / (CALLS * EVENINGS) / 60, waited_s / length_s, rate, waits.busy / waits.count


def test_one_server_at_random_is_m_m_1() -> None:
    wait, there, rate, _ = queue(lambda rng: rng.exponential(600))
    assert wait == pytest.approx(20, rel=0.15)
    assert there == pytest.approx(rate / 60 * wait, rel=1e-9)  # Little's law.
    assert there == pytest.approx(4 / 3, rel=0.15)


def test_one_server_of_fixed_time_is_m_d_1() -> None:
    wait, _, rate, busy = queue(lambda rng: 600.0)
    assert wait == pytest.approx(10, rel=0.12)
    assert rate == pytest.approx(4, rel=0.03)
    assert busy == pytest.approx(2 / 3, rel=0.03)  # rho = lambda / mu.
