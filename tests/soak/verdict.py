"""Whether a soak was flat, and the words that say so."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from statistics import median

from tests.soak.sampling import Sample
from tests.soak.sizes import Size

WARM_S = 600.0
"""The first ten minutes may fill caches and pools; a shorter run takes its first third."""
TAIL = 0.1
MOST_GROWTH = 0.05
MOST_SIZE_OFF = 0.10
PAGES_OFF = 4
"""Roots and last pages, part full: they count in a short run only."""
PAGE = 4096
MOST_LATE_S = 2.0
"""A middle delay longer than this, in any look, is a queue that stands."""


@dataclass(frozen=True, slots=True)
class Growth:
    """Middle values just after warming up, and at the end."""

    name: str
    warm: float
    end: float

    @property
    def share(self) -> float:
        """By how much of the first it grew."""
        return self.end / self.warm - 1 if self.warm else 0.0

    def says(self, unit: str) -> str:
        """One line."""
        return f"{self.name}: {self.warm:.1f} -> {self.end:.1f} {unit} ({self.share:+.1%})"


def growths(samples: Sequence[Sample]) -> tuple[Growth, Growth, Growth]:
    """Memory of engine and screen in MiB, and the delay in milliseconds, then and at the end.

    Raises ``ValueError`` for fewer than six looks.
    """
    if len(samples) < 6:
        raise ValueError(f"{len(samples)} looks tell nothing; give it at least a minute")
    lasts_s = samples[-1].at_s
    warm_s = min(WARM_S, lasts_s / 3)
    window_s = max(lasts_s * TAIL, 20.0)
    warm = [s for s in samples if warm_s <= s.at_s <= warm_s + window_s]
    end = [s for s in samples if s.at_s >= lasts_s - window_s]
    return (
        Growth("engine", *(median(s.engine_kib for s in part) / 1024 for part in (warm, end))),
        Growth("screen", *(median(s.screen_kib for s in part) / 1024 for part in (warm, end))),
        Growth(
            "delay from engine to page",
            *(_middle(s.middle_late_s for s in part if s.late_s) * 1000 for part in (warm, end)),
        ),
    )


def _middle(values: Iterable[float]) -> float:
    found = list(values)
    return median(found) if found else 0.0


def faults(samples: Sequence[Sample], sizes: Sequence[Size]) -> list[str]:
    """Everything that was not as it must be; empty for a good run."""
    engine, screen, delay = growths(samples)
    wrong = [
        f"{growth.name} grew by {growth.share:.1%}, more than {MOST_GROWTH:.0%}"
        for growth in (engine, screen)
        if growth.share > MOST_GROWTH
    ]
    if max(sample.middle_late_s for sample in samples) > MOST_LATE_S:
        wrong.append(f"entries came later than {MOST_LATE_S:g} s: the queue stood")
    if delay.end > 2 * delay.warm + 100:
        wrong.append("the delay from engine to page grew: so does a queue")
    for size in sizes:
        if not size.rows:
            wrong.append(f"{size.table}: nothing was written")
        elif abs(size.measured - size.reckoned) > MOST_SIZE_OFF * size.reckoned + PAGES_OFF * PAGE:
            wrong.append(
                f"{size.table}: {size.measured} bytes where {size.reckoned:.0f} were reckoned"
            )
    return wrong
