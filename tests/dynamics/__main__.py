"""``python -m tests.dynamics``: 10,000 passes for each scale, and 2,000 random motors."""

from __future__ import annotations

import sys

from tests.dynamics.passing import SCALES, passes
from tests.dynamics.tuning import tuned


def main() -> int:
    """Print the shares; status 1 where one falls short."""
    short = False
    for scale in SCALES:
        held = [abs(said - true) <= doubt for true, said, doubt in passes(scale, 10_000, 0)]
        share = sum(held) / len(held)
        short |= share < 0.95
        print(f"{scale:>2}: {100 * share:.2f} % of {len(held)} passes within what is stated")
    every = [tuned(seed) for seed in range(2000)]
    good = [one.good for one in every[:500]]
    short |= not all(good)
    print(f"{sum(good)} of the first 500 motors, {sum(one.good for one in every)} of 2000, do")
    for name in ("forward", "reverse", "stop_before", "stop_after"):
        errors = sorted(abs(getattr(one, name)) for one in every)
        print(
            f"{name:>12}: median {100 * errors[1000]:.2f} %, 99 of 100 {100 * errors[1980]:.2f} %"
        )
    return int(short)


if __name__ == "__main__":
    sys.exit(main())
