"""What the steps of one evening, and of one crew on it, have in common.

A late start, a new operator or a balky engine slows every step at once, so that times are not
independent. The shared part is told from the log by a nested analysis of variance (method of
moments) of each crew's time over what its steps usually take; see any text on random effects.
"""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

import numpy as np

from firmware_py.forecast.sampling import UNSHARED, Key, Sample, Standing

PRIOR_SPREAD = 0.15
"""What is taken for either shared part before the log can tell (common sense, no source)."""
PRIOR_WEIGHT = 4.0
NEWNESS_WEIGHT = 20.0
_LEAST_S = 0.5

Group = tuple[int, tuple[int, int]]


@dataclass(frozen=True, slots=True)
class Effects:
    """The shared parts: ``evening`` and ``crew`` are spreads of logarithms.

    ``newness`` is how many times as long a new crew takes as a seasoned one, and ``of`` each
    earlier crew's own factor, shrunk.
    """

    evening: float = PRIOR_SPREAD
    crew: float = PRIOR_SPREAD
    newness: float = 1.0
    of: Mapping[Group, float] = field(default_factory=dict)

    @property
    def total(self) -> float:
        """Both together."""
        return math.hypot(self.evening, self.crew)

    def alike(self, sample: Sample) -> float:
        """A sample's time, were its crew seasoned and its evening as any other."""
        if sample.key in UNSHARED:
            return sample.seconds
        factor = self.of.get((sample.session, sample.group), 1.0)
        return sample.seconds / (factor * self.of_standing(sample.standing))

    def of_standing(self, standing: Standing) -> float:
        """How many times as long as a seasoned crew one of this standing takes."""
        return self.newness if standing is Standing.NEW else 1.0


def effects_of(samples: Sequence[Sample]) -> Effects:
    """Tell them from the log; without one they are the prior's."""
    own = [one for one in samples if one.key not in UNSHARED]
    newness = _newness(own)
    base = Effects(0.0, 0.0, newness)
    usual, spread = _usual(own, base)
    ratios, noise = _ratios(own, base, usual, spread)
    crew = _pooled(_within(ratios, noise), _freedom(ratios))
    evening, sessions = _between(ratios, noise, crew)
    evening = _pooled(evening, sessions)
    shared = evening + crew
    shrunk = {
        group: math.exp(ratio * shared / (shared + noise[group] + 1e-12))
        for group, ratio in ratios.items()
    }
    return Effects(math.sqrt(evening), math.sqrt(crew), newness, shrunk)


def _newness(samples: Sequence[Sample]) -> float:
    by_key: dict[Key, dict[Standing, list[float]]] = defaultdict(lambda: defaultdict(list))
    for one in samples:
        if one.seconds >= _LEAST_S:  # A step that was passed over tells nothing of haste.
            by_key[one.key][one.standing].append(math.log(one.seconds))
    found, weight = 0.0, 0.0
    for times in by_key.values():
        new, seasoned = times[Standing.NEW], times[Standing.SEASONED]
        if new and seasoned:
            mine = len(new) * len(seasoned) / (len(new) + len(seasoned))
            found += mine * (sum(new) / len(new) - sum(seasoned) / len(seasoned))
            weight += mine
    return math.exp(found / (weight + NEWNESS_WEIGHT))


def _usual(samples: Sequence[Sample], base: Effects) -> tuple[dict[Key, float], dict[Key, float]]:
    """Each step's mean and variance."""
    times: dict[Key, list[float]] = defaultdict(list)
    for one in samples:
        times[one.key].append(base.alike(one))
    return (
        {key: float(np.mean(found)) for key, found in times.items()},
        {key: float(np.var(found)) for key, found in times.items()},
    )


def _ratios(
    samples: Sequence[Sample],
    base: Effects,
    usual: Mapping[Key, float],
    spread: Mapping[Key, float],
) -> tuple[dict[Group, float], dict[Group, float]]:
    """For each crew on each evening: the logarithm of its time over the usual, and its noise."""
    sums: dict[Group, list[float]] = defaultdict(lambda: [0.0, 0.0, 0.0])
    for one in samples:
        total = sums[one.session, one.group]
        total[0] += base.alike(one)
        total[1] += usual[one.key]
        total[2] += spread[one.key]
    told = {g: total for g, total in sums.items() if min(total[0], total[1]) >= _LEAST_S}
    ratios = {group: math.log(took / means) for group, (took, means, _) in told.items()}
    return ratios, {group: noise / means**2 for group, (_, means, noise) in told.items()}


def _by_session(ratios: Mapping[Group, float]) -> dict[int, list[Group]]:
    found: dict[int, list[Group]] = defaultdict(list)
    for group in ratios:
        found[group[0]].append(group)
    return found


def _freedom(ratios: Mapping[Group, float]) -> int:
    return sum(len(groups) - 1 for groups in _by_session(ratios).values())


def _within(ratios: Mapping[Group, float], noise: Mapping[Group, float]) -> float:
    """The variance between crews of one evening, without what chance of the steps adds."""
    squares, freedom, chance = 0.0, 0, 0.0
    for groups in _by_session(ratios).values():
        mine = np.array([ratios[group] for group in groups])
        squares += float(((mine - mine.mean()) ** 2).sum())
        chance += float(np.mean([noise[group] for group in groups])) * (len(groups) - 1)
        freedom += len(groups) - 1
    return max(0.0, (squares - chance) / freedom) if freedom else 0.0


def _between(
    ratios: Mapping[Group, float], noise: Mapping[Group, float], crew: float
) -> tuple[float, int]:
    """The variance between evenings, and of how many more than one it was told."""
    means, chance = [], []
    for groups in _by_session(ratios).values():
        means.append(float(np.mean([ratios[group] for group in groups])))
        own = float(np.mean([noise[group] for group in groups]))
        chance.append((crew + own) / len(groups))
    if len(means) < 2:
        return 0.0, 0
    return max(0.0, float(np.var(means, ddof=1)) - float(np.mean(chance))), len(means) - 1


def _pooled(variance: float, freedom: int) -> float:
    """A variance of so many degrees of freedom, pulled towards the prior's."""
    prior = PRIOR_SPREAD**2
    return (variance * freedom + prior * PRIOR_WEIGHT) / (freedom + PRIOR_WEIGHT)
