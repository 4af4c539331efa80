"""The core against a bare ``transitions`` machine of the five stages, and against its own size.

The machine only walks its stages; the core settles every contact and judges every rule.
"""

from __future__ import annotations

import gc
import logging
from collections.abc import Callable
from pathlib import Path

from transitions import Machine

from firmware_py.core.core import Core
from firmware_py.layout.model import Layout
from firmware_py.layout.reading import parse_layout, read_layout
from firmware_py.tape.reading import RawReading, TapeLine, TapeOrder, TapeReader
from tests.bench.timing import Pair, in_turn

TAPES = Path(__file__).parent.parent / "tapes"
JOBS = 40
BETWEEN_JOBS_US = 500_000_000
STAGES = ("secured", "unlocked", "lined", "in_use", "restored")
BOUNCES = 3


def honest_job(layout: Layout) -> list[TapeLine]:
    """The lines of one honest job."""
    with (TAPES / "honest-job.jsonl").open("rb") as stream:
        return list(TapeReader(layout, stream, "honest-job.jsonl"))


def bouncing(lines: list[TapeLine]) -> list[TapeLine]:
    """The same, each contact bouncing three times before it rests, a millisecond apart."""
    out: list[TapeLine] = []
    for line in lines:
        if isinstance(line, RawReading) and line.made is not None and line.t_us > 0:
            for bounce in range(BOUNCES):
                before_us = line.t_us - (BOUNCES - bounce) * 1_000
                out.append(RawReading(before_us, line.contact, line.made))
                out.append(RawReading(before_us + 500, line.contact, not line.made))
        out.append(line)
    return out


def player(layout: Layout, lines: list[TapeLine]) -> Callable[[], int]:
    """Plays the job over and over; a unit is one reading."""

    def play() -> int:
        core = Core(layout, {"kiln.detector": True})
        readings = 0
        for job in range(JOBS):
            base_us = job * BETWEEN_JOBS_US
            for line in lines:
                if isinstance(line, RawReading):
                    core.reading(base_us + line.t_us, line.contact, line.made)
                    readings += 1
                elif isinstance(line, TapeOrder):
                    core.order(base_us + line.t_us, line.order)
                else:
                    core.advance(base_us + line.t_us)
        return readings

    return play


def walker() -> Callable[[], int]:
    """Walks the bare machine round its stages; a unit is one trigger."""
    logging.getLogger("transitions").setLevel(logging.CRITICAL)

    class Lock:
        """What the machine is put on."""

    lock = Lock()
    arcs = [[f"go_{s}", s, STAGES[(n + 1) % len(STAGES)]] for n, s in enumerate(STAGES)]
    Machine(lock, states=list(STAGES), initial=STAGES[0], transitions=arcs, auto_transitions=False)
    triggers = [getattr(lock, f"go_{stage}") for stage in STAGES]

    def walk() -> int:
        for _ in range(100):
            for trigger in triggers:
                trigger()
        return 100 * len(triggers)

    return walk


def against_machine(*, bounce: bool) -> Pair:
    """Seconds for one reading of the core, and for one trigger of the bare machine."""
    layout = read_layout(TAPES / "quarry-landing.toml")
    lines = honest_job(layout)
    return in_turn(player(layout, bouncing(lines) if bounce else lines), walker())


def big_layout(switches: int) -> Layout:
    """So many switches, each with a spur and a flag."""
    parts = [
        f'[[switch]]\nid = "s{n}"\ncontacts = {{ hasp = "auto", normal = "auto", '
        f'reverse = "auto", detector = "auto" }}\n'
        f'[[spur]]\nid = "p{n}"\nswitch = "s{n}"\ncontacts = {{ detector = "auto" }}\n'
        f'[[flag]]\nid = "f{n}"\nspur = "p{n}"\ncontacts = {{ rack = "auto" }}\n'
        for n in range(switches)
    ]
    return parse_layout("\n".join(parts), "big.toml")


def cycler(layout: Layout, cycles: int, busy: int) -> Callable[[], int]:
    """One lawful job at one of the ``busy`` switches after another; a unit is one reading."""
    moves = [("f{}.rack", True), ("s{}.hasp", False), ("s{}.normal", False)]
    moves += [("s{}.reverse", True), ("s{}.detector", True), ("s{}.detector", False)]
    moves += [("f{}.rack", False), ("s{}.reverse", False), ("s{}.normal", True)]
    moves += [("s{}.hasp", True)]
    named = [[(name.format(n), made) for name, made in moves] for n in range(busy)]
    core = Core(layout)
    now_us = [0]

    def cycle() -> int:
        t_us = now_us[0]
        for number in range(cycles):
            for name, made in named[number % len(named)]:
                t_us += 3_000_000
                core.reading(t_us, name, made)
        now_us[0] = t_us
        return cycles * len(moves)

    return cycle


def by_size(switches: int, busy: int) -> Pair:
    """Seconds for one reading on a layout of so many switches, and on one of a single switch.

    With one busy switch only the layout's size tells; with all of them busy in turn, so does
    the processor's cache, which must fetch each switch anew.
    """
    ours = cycler(big_layout(switches), 1000, busy)
    baseline = cycler(big_layout(1), 1000, 1)
    gc.collect()
    gc.freeze()  # As the engine does once its session has begun.
    return in_turn(ours, baseline, rounds=15)
