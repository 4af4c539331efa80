"""From a contact to every watcher of the screen, with many of them; and what they cost.

The engine, the screen and the watchers are three processes on one machine; all three are in the
figures. Nothing is asserted. ``python -m tests.bench.watchers``.
"""

from __future__ import annotations

import argparse
import contextlib
import json
import sqlite3
import statistics
import subprocess
import sys
import tempfile
import threading
import time
from bisect import bisect_left
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path

from tests.bench.watched_engine import Move
from tests.watchers.crowd import Crowd, Heard, called
from tests.watchers.screen import STOP_WITHIN_S, ScreenProcess

ROOT = Path(__file__).resolve().parents[2]
WATCHERS = 200
MOVES = 30
MEAN_S = 0.12
ROUNDS = 2
STALLED = 10
SLEEP_S = 0.01
STALLED_MOVES = 60
STALLED_MEAN_S = 0.06


class Yardstick:
    """How late the machine wakes a thread that does nothing but sleep: what others do to us."""

    def __init__(self) -> None:
        self._late: list[float] = []
        self._stop = threading.Event()
        self._thread = threading.Thread(target=self._sleep, daemon=True)
        self._thread.start()

    def _sleep(self) -> None:
        while not self._stop.is_set():
            began = time.monotonic()
            time.sleep(SLEEP_S)
            self._late.append(time.monotonic() - began - SLEEP_S)

    def late(self) -> float:
        """Seconds at the 95th percentile, until now."""
        self._stop.set()
        self._thread.join()
        return _share(self._late, 0.95)


class EngineProcess:
    """The child whose contacts we move."""

    def __init__(self, folder: Path) -> None:
        command = [sys.executable, "-m", "tests.bench.watched_engine", str(folder)]
        self._child = subprocess.Popen(
            command, cwd=ROOT, stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True
        )
        self._line()

    def moves(self, count: int, mean_s: float) -> list[Move]:
        """Move contacts and give what the stop-watch says."""
        assert self._child.stdin is not None
        self._child.stdin.write(f"{count} {mean_s}\n")
        self._child.stdin.flush()
        return [(moved, lit, switch) for moved, lit, switch in json.loads(self._line())]

    def _line(self) -> str:
        assert self._child.stdout is not None
        line = self._child.stdout.readline()
        if not line:
            raise RuntimeError("the engine ended; it has said why")
        return line

    def close(self) -> None:
        """End it."""
        assert self._child.stdin is not None
        self._child.stdin.close()
        self._child.wait(STOP_WITHIN_S)
        assert self._child.stdout is not None
        self._child.stdout.close()


@dataclass(slots=True)
class Found:
    """What was measured; times in seconds, memory in MB, ``cpu`` as a share of one core."""

    lamp_alone: list[float]
    lamp_watched: list[float]
    each: list[float]
    slowest: list[float]
    missed: int = 0
    idle_cpu: float = 0.0
    cpu: float = 0.0
    memory: tuple[float, float, float, float] = (0.0, 0.0, 0.0, 0.0)
    threads: tuple[int, int, int] = (0, 0, 0)
    stalled_slowest: float = 0.0
    emptied: float = 0.0
    stop: float = 0.0
    late: float = 0.0


def measure(watchers: int = WATCHERS) -> Found:
    """All of it, in one run."""
    with tempfile.TemporaryDirectory(dir=ROOT, prefix=".bench-") as name:
        folder = Path(name)
        with _both(folder) as (engine, screen):
            return _measured(engine, screen, folder / "logbook.sqlite", watchers)


@contextlib.contextmanager
def _both(folder: Path) -> Iterator[tuple[EngineProcess, ScreenProcess]]:
    engine = EngineProcess(folder)
    try:
        screen = ScreenProcess(folder / "logbook.sqlite")
        try:
            yield engine, screen
        finally:
            screen.kill()
    finally:
        engine.close()


def _measured(engine: EngineProcess, screen: ScreenProcess, log: Path, watchers: int) -> Found:
    found = Found([], [], [], [])
    engine.moves(5, MEAN_S)  # So that both are warm.
    found.idle_cpu = _cpu(screen, lambda: time.sleep(4.0))
    before = screen.memory_mb(), screen.threads()
    yardstick = Yardstick()
    for _ in range(ROUNDS):
        found.lamp_alone += [(lit - moved) / 1e9 for moved, lit, _ in engine.moves(MOVES, MEAN_S)]
        crowd = Crowd(screen.port, watchers)
        crowd.settle()
        found.cpu += _cpu(screen, lambda c=crowd: _watched(engine, c, log, found)) / ROUNDS
        during = screen.memory_mb(), screen.threads()
        crowd.leave()
        found.emptied = max(found.emptied, screen.empty())
    after = screen.memory_mb(), screen.threads()
    found.late = yardstick.late()
    stalled = _stalled(engine, screen, log, found, watchers)
    found.memory = before[0], during[0], after[0], stalled
    found.threads = before[1], during[1], after[1]
    found.stop = _stop(screen, watchers)
    return found


def _cpu(screen: ScreenProcess, work: object) -> float:
    began, used = time.monotonic(), screen.cpu_s()
    assert callable(work)
    work()
    return (screen.cpu_s() - used) / (time.monotonic() - began)


def _watched(engine: EngineProcess, crowd: Crowd, log: Path, found: Found) -> None:
    moves = engine.moves(MOVES, MEAN_S)
    time.sleep(0.5)
    found.lamp_watched += [(lit - moved) / 1e9 for moved, lit, _ in moves]
    for times in _arrivals(moves, crowd, log):
        found.missed += sum(one is None for one in times)
        there = [one for one in times if one is not None]
        found.each += there
        found.slowest.append(max(there))


def _arrivals(moves: Sequence[Move], crowd: Crowd, log: Path) -> list[list[float | None]]:
    """For each move, the seconds until each watcher had it; ``None`` where it never came."""
    with contextlib.closing(sqlite3.connect(log)) as book:
        rows = book.execute("SELECT id FROM entry WHERE what = 'stage' ORDER BY id").fetchall()
    ids = [row[0] for row in rows[-len(moves) :]]
    return [
        [_arrival(watcher.heard, entry, moved) for watcher in crowd.watchers]
        for entry, (moved, _, _) in zip(ids, moves, strict=True)
    ]


def _arrival(heard: Heard, entry: int, moved_ns: int) -> float | None:
    place = bisect_left(heard, entry, key=lambda one: one[1])
    return (heard[place][0] - moved_ns) / 1e9 if place < len(heard) else None


def _stalled(
    engine: EngineProcess, screen: ScreenProcess, log: Path, found: Found, watchers: int
) -> float:
    """The most memory held while some watchers read nothing, and the others their changes."""
    crowd = Crowd(screen.port, watchers - STALLED)
    silent = [called(screen.port, room=4096) for _ in range(STALLED)]
    crowd.settle()
    moves = engine.moves(STALLED_MOVES, STALLED_MEAN_S)
    held = screen.memory_mb()
    time.sleep(0.5)
    times = [one for each in _arrivals(moves, crowd, log) for one in each if one is not None]
    found.stalled_slowest = _share(times, 0.95)
    crowd.leave()
    for line in silent:
        line.close()
    screen.empty()
    return held


def _stop(screen: ScreenProcess, watchers: int) -> float:
    crowd = Crowd(screen.port, watchers)
    crowd.settle()
    took = screen.stop()
    crowd.leave()
    return took


def _share(times: Sequence[float], share: float) -> float:
    return sorted(times)[min(len(times) - 1, int(len(times) * share))]


def report(watchers: int = WATCHERS) -> None:
    """Measure and print."""
    found = measure(watchers)
    each, slowest = found.each, found.slowest
    print(
        f"contact to {watchers} watchers: each one {_ms(each, 0.5)} at the median, "
        f"{_ms(each, 0.95)} at the 95th percentile; the last one {_ms(slowest, 0.5)} and "
        f"{_ms(slowest, 0.95)}, {max(slowest) * 1e3:.1f} ms at most; {found.missed} missed"
    )
    alone, watched = statistics.median(found.lamp_alone), statistics.median(found.lamp_watched)
    print(
        f"contact to lamp meanwhile: {watched * 1e6:.0f} µs, and {alone * 1e6:.0f} µs with nobody "
        f"watching ({watched / alone:.2f} times); 90th percentile "
        f"{_share(found.lamp_watched, 0.9) / _share(found.lamp_alone, 0.9):.2f} times"
    )
    nobody, many, gone, stalled = found.memory
    print(
        f"screen's memory: {nobody:.1f} MB with nobody, {many:.1f} with {watchers}, {gone:.1f} "
        f"after they have gone (noticed within {found.emptied:.1f} s), {stalled:.1f} while "
        f"{STALLED} of them read nothing and the others had their changes within "
        f"{found.stalled_slowest * 1e3:.1f} ms; threads {', '.join(map(str, found.threads))}"
    )
    print(
        f"screen's processor: {found.idle_cpu:.1%} of a core with nobody, {found.cpu:.1%} with "
        f"{watchers} and {1 / MEAN_S:.0f} changes a second; stopped with all of them there in "
        f"{found.stop:.2f} s. The machine meanwhile: a thread that sleeps was woken "
        f"{found.late * 1e3:.1f} ms late at the 95th percentile"
    )


def _ms(times: Sequence[float], share: float) -> str:
    return f"{_share(times, share) * 1e3:.1f} ms"


def main() -> None:
    """Read the command line and report."""
    parser = argparse.ArgumentParser(prog="python -m tests.bench.watchers", description=__doc__)
    parser.add_argument("--watchers", type=int, default=WATCHERS, help="how many (%(default)s)")
    report(parser.parse_args().watchers)


if __name__ == "__main__":
    main()
