"""Beta-PERT against scipy.stats and the worked values of the three-point formulas.

Worked values: of (4, 7, 15) the mean is 7.8333 and the curve's own spread 1.9811; of (2, 4, 6) the
spread is 0.7559 (the three-point estimate of the mean is (a + 4m + b) / 6, as PERT has it).
"""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy import stats

from firmware_py.forecast.pert import Pert
from firmware_py.forecast.words import ForecastError

AT = (np.arange(2_000) + 0.5) / 2_000


@pytest.mark.parametrize(
    ("triple", "mean", "sigma"),
    [((4, 7, 15), 7.8333, 1.9811), ((2, 4, 6), 4.0, 0.7559), ((6, 9, 18), 10.0, 2.1381)],
)
def test_worked_values(triple: tuple[float, float, float], mean: float, sigma: float) -> None:
    one = Pert(*triple)
    assert one.mean == pytest.approx(mean, abs=5e-5)
    assert one.sigma == pytest.approx(sigma, abs=5e-5)


@settings(max_examples=30, deadline=None)
@given(
    st.floats(0, 100),
    st.floats(0, 1),
    st.floats(0.01, 100),
)
def test_it_is_scipys_beta(low: float, part: float, wide: float) -> None:
    one = Pert(low, min(low + part * wide, low + wide), low + wide)
    curve = stats.beta(one.alpha, one.beta, loc=low, scale=one.high - low)
    assert one.mean == pytest.approx(curve.mean())
    assert one.sigma == pytest.approx(curve.std(), rel=1e-6)
    made = one.quantiles(AT)
    assert made.mean() == pytest.approx(one.mean, rel=1e-3, abs=2e-3 * wide)
    assert made.std() == pytest.approx(one.sigma, rel=1e-2, abs=2e-3 * wide)
    assert low <= made.min() <= made.max() <= one.high


def test_an_evening_of_the_worked_example() -> None:
    """The session vector: mean 91.333 minutes, spread 6.231 of independent steps.

    Three pulls (4, 7, 15), four spots (3, 6, 14), a run-around (6, 9, 18), an air test
    (6, 8, 15), twelve throws (0.5, 1, 3) and walking (4, 6, 12).
    """
    pull, spot, throw = Pert(4, 7, 15), Pert(3, 6, 14), Pert(0.5, 1, 3)
    once = [Pert(6, 9, 18), Pert(6, 8, 15), Pert(4, 6, 12)]
    steps = [pull] * 3 + [spot] * 4 + [throw] * 12 + once
    assert sum(step.mean for step in steps) == pytest.approx(91.333, abs=1e-3)
    assert math.sqrt(sum(step.sigma**2 for step in steps)) == pytest.approx(6.231, abs=1e-3)
    rng = np.random.default_rng(12345)
    total = sum(rng.choice(step.quantiles(AT), 50_000) for step in steps)
    # As 200,000 draws of scipy's own curves have it: P50, P80, P90, P95.
    assert np.quantile(total, [0.5, 0.8, 0.9, 0.95]) == pytest.approx(
        [91.2, 96.6, 99.4, 101.8], abs=0.25
    )


def test_no_width_is_a_constant() -> None:
    assert Pert(5, 5, 5).quantiles(AT).tolist() == [5.0] * len(AT)


@pytest.mark.parametrize(
    "triple", [(3, 2, 5), (1, 2, math.inf), (math.nan, 1, 2), (-1, 0, 1), (1, 5, 4)]
)
def test_what_is_no_estimate_is_refused(triple: tuple[float, float, float]) -> None:
    with pytest.raises(ForecastError, match="low over likely to high"):
        Pert(*triple)
