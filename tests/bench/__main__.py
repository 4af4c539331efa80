"""Prints every benchmark of this room."""

from __future__ import annotations

from tests.bench.core import against_machine, by_size
from tests.bench.lamp import latency
from tests.bench.logbook import report as durable_inserts
from tests.bench.start import report as start
from tests.bench.timing import Pair
from tests.bench.watchers import report as watchers


def _core(label: str, pair: Pair) -> None:
    print(
        f"{label}: core {pair.ours * 1e6:.2f} µs a reading, machine {pair.baseline * 1e6:.2f} µs "
        f"a trigger; the core takes {1 / pair.ratio:.2f} times as many a second"
    )


def main() -> None:
    """Run them all."""
    _core("honest job, clean edges", against_machine(bounce=False))
    _core("honest job, each edge bouncing three times", against_machine(bounce=True))
    for switches in (10, 100, 1000):
        one, every = by_size(switches, 1).ratio, by_size(switches, switches).ratio
        print(
            f"{switches} switches: a reading costs {one:.2f} times that on a layout of one where "
            f"one switch is busy, {every:.2f} times where all are in turn"
        )
    lamp = latency()
    print(
        f"contact to lamp: gpiozero alone {lamp.baseline * 1e6:.1f} µs; pins, core and lamp on one "
        f"thread {lamp.in_line * 1e6:.1f} µs ({lamp.in_line / lamp.baseline:.2f} times); through "
        f"the engine's queue and thread {lamp.threaded * 1e6:.1f} µs "
        f"({lamp.threaded / lamp.baseline:.2f} times); gpiozero alone through a bare queue and "
        f"thread {lamp.hopped * 1e6:.1f} µs ({lamp.threaded / lamp.hopped:.2f} times)"
    )
    start()
    durable_inserts()
    watchers()


if __name__ == "__main__":
    main()
