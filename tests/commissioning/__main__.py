"""``python -m tests.commissioning [SETS] [--from SEED] [--singles]``: try commissioning out.

Without options: 1,000 random sets of one to three faults on the demo's layout, and then every
single fault. The exit status is 1 if a fault was named wrongly, missed or invented.
"""

from __future__ import annotations

import argparse
import sys
import time
from collections.abc import Iterable

from .campaign import Figures, campaign, demo, random_sets, single_faults
from .faults import Wrong


def main() -> int:
    """Run the campaign."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("sets", nargs="?", type=int, default=1000, help="random fault sets")
    parser.add_argument("--from", dest="first", type=int, default=0, help="the first seed")
    parser.add_argument("--no-singles", action="store_true", help="random sets alone")
    given = parser.parse_args()
    layout = demo()
    seeds = range(given.first, given.first + given.sets)
    wrong = _run("random sets of one to three faults", random_sets(seeds, layout))
    if not given.no_singles:
        every = single_faults(layout)
        wrong += _run("single faults, all of them", enumerate([[one] for one in every]))
    return 1 if wrong else 0


def _run(what: str, sets: Iterable[tuple[int, list[Wrong]]]) -> int:
    began = time.monotonic()

    def told(figures: Figures) -> None:
        if figures.sets % 250 == 0:
            print(f"  {figures.sets} sets, {len(figures.wrong)} wrong", flush=True)

    figures = campaign(sets, demo(), told)
    print("\n".join(figures.wrong))
    print(
        f"{what}: {figures.sets} sets with {figures.faults} faults, {len(figures.wrong)} wrong; "
        f"{figures.literal} named just as they were done, the others by what can't be told from "
        f"it; {figures.instructions} instructions, {time.monotonic() - began:.0f} s",
        flush=True,
    )
    return len(figures.wrong)


if __name__ == "__main__":
    sys.exit(main())
