"""Every seeded fault, one after the other; and how time grows with the number of spurs."""

from __future__ import annotations

import resource
import time

from firmware_py.proof.proving import prove
from tests.proof.proof_layouts import layout_of, many
from tests.proof.seeded_faults import FAULTS, UNSEEN, UNSILENT
from tests.proof.seeding import found_with, silence_with


def faults(names: list[str]) -> int:
    """Seed each fault; the answer is 1 if one was not found as it should be."""
    missed = 0
    for fault in FAULTS:
        if names and fault.name not in names:
            continue
        found = found_with(fault.name)
        numbers, tapes = found.get("numbers", []), found.get("tapes", [])
        shown = found.get("shown", [])
        seen = isinstance(numbers, list) and fault.number in numbers
        seen = seen and isinstance(shown, list) and any(shown)
        lines = [len(tape) for tape in tapes] if isinstance(tapes, list) else []
        missed += not seen
        says = found.get("what") or found.get("error") or "nothing"
        word = "found" if seen else "MISSED"
        print(
            f"{word:>6}  {fault.name}: properties {numbers}, tapes {lines}, shown {shown}: {says}",
            flush=True,
        )
    for name, why in UNSEEN.items():
        print(f"unseen  {name}: {why}")
    print(f"{missed} missed of {len(FAULTS)}")
    return int(missed > 0)


def silence() -> int:
    """Seed each fault of ``UNSILENT``; the answer is 1 if the solver's encoding missed one."""
    missed = 0
    for name in UNSILENT:
        found = silence_with(name)
        missed += not found
        print(f"{'found' if found else 'MISSED':>6}  {name}: {found}", flush=True)
    print(f"{missed} missed of {len(UNSILENT)}")
    return int(missed > 0)


def figures() -> int:
    """Print times for 1, 10 and 100 spurs, alike and each its own, and for the whole spur."""
    for count in (1, 10, 100):
        for alike in (True, False):
            layout = many(count, alike=alike)
            began, used = time.monotonic(), _cpu()
            prove(layout, alike=alike)
            wall = time.monotonic() - began
            word = "alike" if alike else "each its own"
            print(f"{count} spurs, {word}: {wall:.1f} s, {_cpu() - used:.1f} s of CPU", flush=True)
    began, used = time.monotonic(), _cpu()
    [proof] = prove(layout_of("whole"), workers=1)
    peak = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
    print(f"everything and two flags: {time.monotonic() - began:.1f} s, {_cpu() - used:.1f} s of")
    print(f"CPU, {peak:.0f} MiB at most, {proof.looked_at} cases, {len(proof.refuted)} false")
    return 0


def _cpu() -> float:
    both = (resource.getrusage(who) for who in (resource.RUSAGE_SELF, resource.RUSAGE_CHILDREN))
    return sum(one.ru_utime + one.ru_stime for one in both)
