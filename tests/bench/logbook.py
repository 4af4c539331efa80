"""Durable inserts through the logbook's own writing path, against bare ``sqlite3``.

Both insert the same entries into the same table, in WAL with ``synchronous=FULL``, each into a
file of its own in one folder, taking turns. Time is the wall's: the disk is most of it.
"""

from __future__ import annotations

import sqlite3
import statistics
import tempfile
import time
from collections.abc import Callable
from contextlib import closing
from dataclasses import dataclass
from pathlib import Path

from firmware_py.core.entries import StageEntry
from firmware_py.core.names import Stage
from firmware_py.logbook.opening import open_engine
from firmware_py.logbook.writing import Keeper
from tests.bench.timing import Pair

STAGES = tuple(Stage)
FOLDER = Path(__file__).resolve().parents[2]
"""Not the folder for temporary files: that may be in memory, where nothing is durable."""

INSERT = (
    "INSERT INTO entry (session_id, t_us, wall_us, what, at, spur, line) "
    "VALUES (?, ?, ?, ?, ?, ?, ?)"
)


@dataclass(frozen=True, slots=True)
class Inserts:
    """How often each commits: medians in seconds for a row."""

    rows: int
    pair: Pair

    @property
    def rate(self) -> float:
        """Our rate as a share of the bare one."""
        return 1 / self.pair.ratio


def inserts(rows: int, commits: int, rounds: int = 9) -> Inserts:
    """Time commits of so many rows each, in so many rounds that take turns."""
    with tempfile.TemporaryDirectory(dir=FOLDER, prefix=".bench-") as folder:
        ours, bare = Path(folder) / "ours.sqlite", Path(folder) / "bare.sqlite"
        open_engine(str(bare)).dispose()
        engine = open_engine(str(ours))
        keeper = Keeper(engine)
        keeper.begin_session(
            layout_name="", layout_path="", layout_toml="", simulated=True, outset={}
        )
        with closing(sqlite3.connect(bare, isolation_level=None)) as connection:
            connection.execute("PRAGMA synchronous = FULL")
            connection.execute(
                "INSERT INTO session (layout_name, layout_path, layout_toml, simulated, "
                "began_wall_us, outset) VALUES ('', '', '', 1, 0, '{}')"
            )
            pair = _in_turn(
                lambda: _through_keeper(keeper, rows, commits),
                lambda: _bare(connection, rows, commits),
                rounds,
            )
        keeper.close()
        engine.dispose()
    return Inserts(rows, Pair(pair.ours / rows, pair.baseline / rows))


def _through_keeper(keeper: Keeper, rows: int, commits: int) -> None:
    """The engine's way: told to the keeper, written by its thread, waited for."""
    for commit in range(commits):
        with keeper.together():
            for row in range(rows):
                t_us = commit * rows + row
                keeper.entry(StageEntry(t_us, "mill-switch", STAGES[t_us % len(STAGES)]), t_us)
        assert keeper.flush()


def _bare(connection: sqlite3.Connection, rows: int, commits: int) -> None:
    """The same rows, their text being made as well, with nothing in between."""
    for commit in range(commits):
        connection.execute("BEGIN")
        values = []
        for row in range(rows):
            t_us = commit * rows + row
            stage = STAGES[t_us % len(STAGES)].value
            line = (
                f'{{"t": {round(t_us / 1_000_000, 3)}, "what": "stage", '
                f'"switch": "mill-switch", "stage": "{stage}"}}'
            )
            values.append((1, t_us, t_us, "stage", "mill-switch", None, line))
        if rows == 1:
            connection.execute(INSERT, values[0])
        else:
            connection.executemany(INSERT, values)
        connection.execute("COMMIT")


def _in_turn(ours: Callable[[], None], baseline: Callable[[], None], rounds: int) -> Pair:
    times: tuple[list[float], list[float]] = ([], [])
    for work in (ours, baseline):
        work()
    for _ in range(rounds):
        for place, work in enumerate((ours, baseline)):
            began = time.perf_counter()
            work()
            times[place].append(time.perf_counter() - began)
    return Pair(statistics.median(times[0]), statistics.median(times[1]))


def report() -> None:
    """Print both."""
    for rows, commits in ((1, 200), (100, 40)):
        found = inserts(rows, commits)
        each = "row" if rows == 1 else f"{rows} rows"
        pair = Pair(found.pair.ours / commits, found.pair.baseline / commits)
        print(
            f"durable inserts, {each} a commit: logbook {pair.ours * 1e6:.1f} µs a row, bare "
            f"sqlite3 {pair.baseline * 1e6:.1f} µs; {found.rate:.2f} of the bare rate"
        )


if __name__ == "__main__":
    report()
