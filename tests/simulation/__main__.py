"""``python -m tests.simulation [SESSIONS] [--from SEED]``: simulate, and tell what came of it.

The exit status is 1 if an invariant was broken, or if something that should be met sometimes
never was in a campaign of ``ENOUGH`` sessions or more.
"""

from __future__ import annotations

import argparse
import sys
import time
from collections.abc import Iterator

from .campaign import Figures, bench, campaign
from .script import script_of, shown
from .session import Outcome
from .shrinking import shrunk

ENOUGH = 2_000
"""Sessions after which everything that can be met should have been."""
SHOWN = 3
"""So many failing sessions are shrunk and shown; then the campaign ends."""


def main() -> int:
    """Run a campaign."""
    given = _arguments()
    seeds = range(given.first, given.first + given.sessions)
    began = time.process_time()
    broken: list[int] = []

    def told(seed: int, outcome: Outcome) -> bool:
        done = seed - given.first + 1
        if outcome.broken:
            broken.append(seed)
            print("\n".join(report(seed, outcome)), flush=True)
        if done % given.every == 0:
            print(f"{done} of {given.sessions} sessions, {len(broken)} broken", flush=True)
        return len(broken) < SHOWN

    figures = campaign(seeds, told)
    print("\n".join(summary(figures, time.process_time() - began)))
    lacking = figures.sessions >= ENOUGH and figures.never_met
    return 1 if figures.broken or lacking else 0


def report(seed: int, outcome: Outcome) -> Iterator[str]:
    """A failing session: its seed, its script shrunk, and the tape of what is left of it."""
    yield f"seed {seed}: {outcome.broken}"
    kind = str(outcome.broken).partition(":")[0]
    with bench() as played_on:
        small = shrunk(
            script_of(seed),
            lambda script: str(played_on.play(script).broken).startswith(kind),
        )
        last = played_on.play(small)
    yield f"shrunk to {len(small.steps)} steps: {last.broken}"
    yield from shown(small)
    yield "the tape:"
    yield from last.tape
    yield f"again: python -m tests.simulation 1 --from {seed}"


def summary(figures: Figures, cpu_s: float) -> Iterator[str]:
    """What a campaign has come to, in lines."""
    hours = figures.virtual_us / 3_600_000_000
    yield f"{figures.sessions} sessions, {figures.lives} lives of the engine"
    yield f"{hours:.1f} hours of virtual time, {figures.entries} entries"
    each_ms = 1_000 * cpu_s / max(figures.sessions, 1)
    yield f"{cpu_s:.0f} s of CPU, {each_ms:.0f} ms for each session; digest {figures.digest}"
    yield from (f"{count:8} sessions met: {tag}" for tag, count in sorted(figures.met.items()))
    yield from (f"never met: {tag}" for tag in figures.never_met)
    yield from (f"broken: seed {seed}: {what}" for seed, what in figures.broken.items())
    yield f"{len(figures.broken)} of {figures.sessions} sessions broke an invariant"


def _arguments() -> argparse.Namespace:
    parser = argparse.ArgumentParser(prog="python -m tests.simulation", description=__doc__)
    parser.add_argument("sessions", nargs="?", type=int, default=500, metavar="SESSIONS")
    parser.add_argument("--from", dest="first", type=int, default=0, metavar="SEED")
    parser.add_argument("--every", type=int, default=100, help="report after so many sessions")
    return parser.parse_args()


if __name__ == "__main__":
    sys.exit(main())
