"""An engine on simulated pins whose contacts are moved on command, with a stop-watch at its lamps.

``python -m tests.bench.watched_engine FOLDER`` puts a layout and a logbook there. Each line
``MOVES SECONDS`` on its standard input is answered by one JSON line: for each move when the
contact moved and when its lamp was switched, in nanoseconds of the monotonic clock, and the
switch. ``SECONDS`` is the mean pause between two moves. The layout's settle time is 0, so that
what is measured is ours.
"""

from __future__ import annotations

import json
import random
import sys
import threading
import time
from pathlib import Path

from firmware_py.core.names import Shows
from firmware_py.engine.assembly import Plant, Settings

SWITCHES = 12
"""Enough that none is moved so often that it is taken to chatter."""

SWITCH = """
[[switch]]
id = "s{n}"
contacts = {{ hasp = "auto", normal = "auto", reverse = "auto" }}
lamps = {{ green = "auto", red = "auto", white = "auto" }}
"""
TIMES = """
[times]
settle = 0.0
clear_after = 0.0
"""
LAMP_WITHIN_S = 5.0

Move = tuple[int, int, str]


class Moved:
    """A plant whose hasps are opened and locked in turn."""

    def __init__(self, folder: Path) -> None:
        layout = folder / "watched.toml"
        layout.write_text(TIMES + "".join(SWITCH.format(n=n) for n in range(SWITCHES)))
        self.plant = Plant(Settings(layout, str(folder / "logbook.sqlite"), True, opened=True))
        self._lit = threading.Semaphore(0)
        self._lit_ns = 0
        self._show = self.plant.board.show
        self._locked = [True] * SWITCHES
        self._next = 0
        self._thread = threading.Thread(target=self.plant.run)

    def start(self) -> None:
        """Let the engine guard, and look at its lamps from then on."""
        self._thread.start()
        self.plant.began.wait()
        time.sleep(0.5)  # Let the session's first outputs pass before the stop-watch looks.
        self.plant.board.show = self._watched  # type: ignore[method-assign] # The stop-watch.

    def _watched(self, of: str, output: str, shows: Shows) -> None:
        self._show(of, output, shows)
        if output == "red":
            self._lit_ns = time.monotonic_ns()
            self._lit.release()

    def moves(self, count: int, mean_s: float) -> list[Move]:
        """So many moves, at times that keep no step with anybody's polling."""
        chance = random.Random(count)
        return [self._move(chance.uniform(0.5, 1.5) * mean_s) for _ in range(count)]

    def _move(self, pause_s: float) -> Move:
        time.sleep(pause_s)
        number, self._next = self._next, (self._next + 1) % SWITCHES
        self._locked[number] = not self._locked[number]
        moved_ns = time.monotonic_ns()
        self.plant.hand(f"s{number}.hasp", self._locked[number])
        if not self._lit.acquire(timeout=LAMP_WITHIN_S):
            raise RuntimeError(f"s{number}: its lamp did not follow its hasp")
        return moved_ns, self._lit_ns, f"s{number}"

    def close(self) -> None:
        """Stop the engine."""
        self.plant.stop()
        self._thread.join()


def main() -> None:
    """Serve until the standard input ends."""
    moved = Moved(Path(sys.argv[1]))
    moved.start()
    try:
        print("ready", flush=True)
        for line in sys.stdin:
            count, mean_s = line.split()
            print(json.dumps(moved.moves(int(count), float(mean_s))), flush=True)
    finally:
        moved.close()


if __name__ == "__main__":
    main()
