"""``python -m tests.club schedules 1000``: random faults over a whole club, and every promise.

``python -m tests.club scale`` measures what broker, database and board carry.
"""

from __future__ import annotations

import argparse
import os
import sys
import tempfile
import time
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parents[1]))  # The tests' rooms, by their own names.

from club.fleet import fleet_in, running
from club.scale import measure
from club.schedules import PROMISED_S, lamps_unaffected, play, ready
from club.working import Hands


def main(arguments: list[str] | None = None) -> int:
    parser = argparse.ArgumentParser(prog="python -m tests.club", description=__doc__)
    parts = parser.add_subparsers(dest="part", required=True)
    one = parts.add_parser("schedules", help="play so many random schedules of faults")
    one.add_argument("count", type=int)
    one.add_argument("--seed", type=int, default=0, help="the first schedule's")
    one.add_argument("--sqlite", action="store_true", help="the boards' databases are files")
    one.add_argument("--boards", type=int, default=2, choices=(1, 2))
    one.add_argument("--only", help="this kind of fault alone")
    one.add_argument("--minutes", type=float, help="stop after so many")
    two = parts.add_parser("scale", help="measure 64 boxes against 4 at the same pace")
    two.add_argument("--nodes", type=int, default=64)
    two.add_argument("--rate", type=float, default=2_000.0, help="entries a second, of all boxes")
    two.add_argument("--seconds", type=float, default=30.0)
    given = parser.parse_args(arguments)
    return schedules(given) if given.part == "schedules" else scale(given)


def scale(given: argparse.Namespace) -> int:
    few = measure(4, given.rate, given.seconds)
    print(few, flush=True)
    many = measure(given.nodes, given.rate, given.seconds)
    print(many, flush=True)
    ratio = many.whole / few.whole
    load = os.getloadavg()[0]
    print(f"An entry costs {ratio:.2f} times as much CPU at {given.nodes} boxes as at 4.")
    print(f"This machine has {os.cpu_count()} processors; its load was {load:.0f} meanwhile.")
    return 0


def schedules(given: argparse.Namespace) -> int:
    # In memory where that can be: what is tried here is no power cut, and disks are slow.
    memory = Path("/dev/shm")
    where = memory if os.access(memory, os.W_OK) else None
    folder = Path(tempfile.mkdtemp(prefix="spurlock-club-", dir=where))
    folder.chmod(0o755)
    fleet = fleet_in(folder, sqlite=given.sqlite, boards=given.boards, disk_mb=160)
    until_s = time.monotonic() + 60 * (given.minutes or 1e6)
    took: list[float] = []
    wrong = 0
    with running(fleet):
        ready(fleet)
        hands = Hands(fleet, given.seed)
        hands.start()
        for seed in range(given.seed, given.seed + given.count):
            if time.monotonic() > until_s:
                break
            outcome = play(fleet, hands, seed, given.only)
            took.append(outcome.right_after_s)
            wrong += bool(outcome.wrong)
            print(outcome, flush=True)
            if outcome.wrong:
                print(fleet.said, flush=True)
                break
        hands.close()
        for trouble in (found := lamps_unaffected(fleet)):
            print(trouble)
        wrong += len(found)
    late = sum(one > PROMISED_S for one in took)
    ordered = sorted(took)
    print(
        f"{len(took)} schedules, {hands.left} hands: {wrong} wrong, {late} later than "
        f"{PROMISED_S:g} s after the cure; median {ordered[len(ordered) // 2]:.2f} s, "
        f"latest {ordered[-1]:.2f} s. Everything is in {folder}."
    )
    return 1 if wrong else 0


if __name__ == "__main__":
    sys.exit(main())
