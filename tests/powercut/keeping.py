"""The process whose power is cut: a keeper at work, and the promises that were made meanwhile.

Run as ``python -m tests.powercut.keeping FOLDER SYNCHRONOUS ROUNDS`` under the recorder. What is
promised goes to a file beside the logbook, so that the record has it in its place among the
writes: a line of JSON counts what ``flush`` or ``begin_session`` answered for, or what a reader of
its own, as the screen is, could see at that moment.
"""

from __future__ import annotations

import json
import os
import random
import sqlite3
import sys
import threading
from pathlib import Path

from sqlalchemy import Engine, event
from sqlalchemy.engine.interfaces import DBAPIConnection

from firmware_py.core.entries import OutputEntry, PhaseEntry, Violation
from firmware_py.core.names import Phase, Rule, Shows
from firmware_py.logbook.opening import logbook_url, open_engine
from firmware_py.logbook.requests import leave_order
from firmware_py.logbook.writing import Keeper

COUNTS = {
    "sessions": "SELECT count(*) FROM session",
    "entries": "SELECT count(*) FROM entry",
    "violations": "SELECT count(*) FROM violation",
    "acknowledged": "SELECT count(*) FROM violation WHERE acknowledged_t_us IS NOT NULL",
    "requests": "SELECT count(*) FROM request",
    "answers": "SELECT count(*) FROM request WHERE answered_wall_us IS NOT NULL",
    "tape": "SELECT count(*) FROM tape",
}
"""What is counted; each can only grow."""


class Promises:
    """Writes promises down, in the order in which they are made."""

    def __init__(self, path: Path) -> None:
        self._fd = os.open(path, os.O_WRONLY | os.O_CREAT | os.O_APPEND, 0o600)
        self._lock = threading.Lock()

    def make(self, by: str, counts: dict[str, int]) -> None:
        """Promise that at least so many are durable."""
        with self._lock:
            os.write(self._fd, json.dumps({"by": by, **counts}).encode() + b"\n")


def look(logbook: Path, promises: Promises, stop: threading.Event) -> None:
    """Promise what a screen could show: it sees only what is committed."""
    database = sqlite3.connect(logbook, timeout=30, isolation_level=None)
    while not stop.is_set():
        seen: dict[str, int] = {}
        database.execute("BEGIN")
        for name, counted in COUNTS.items():
            seen[name] = database.execute(counted).fetchone()[0]
        database.execute("COMMIT")
        promises.make("reader", seen)
        stop.wait(0.002)
    database.close()


def keep(logbook: Path, promises: Promises, synchronous: str, rounds: int) -> None:
    """Keep a session of so many rounds; now and then wait for what is told to be committed."""
    engine = open_engine(logbook_url(str(logbook)))

    def set_back(raw: DBAPIConnection, _record: object) -> None:
        cursor = raw.cursor()
        cursor.execute(f"PRAGMA synchronous = {synchronous}")
        cursor.close()

    if synchronous != "FULL":
        event.listen(engine, "connect", set_back)
        engine.dispose()
    keeper = Keeper(engine, group_s=0.01)
    stop = threading.Event()
    session(keeper)
    promises.make("begin_session", {"sessions": 1})
    reader = threading.Thread(target=look, args=(logbook, promises, stop))
    reader.start()
    told = dict.fromkeys(
        ("tape", "entries", "violations", "acknowledged", "requests", "answers"), 0
    )
    chance = random.Random(5)
    for number in range(1, rounds + 1):
        tell(keeper, engine, number, told, chance)
        if chance.randrange(4) == 0:
            before = dict(told)
            if keeper.flush():
                promises.make("flush", before)
    stop.set()
    reader.join()
    keeper.close()
    engine.dispose()


def session(keeper: Keeper) -> None:
    """Begin one, with an outset as long as a real one."""
    outset: dict[str, object] = {"stages": {f"switch-{n}": "secured" for n in range(40)}}
    keeper.begin_session(
        layout_name="Cut valley",
        layout_path="cut.toml",
        layout_toml="# " + "a long layout " * 600,
        simulated=True,
        outset=outset,
    )


def tell(
    keeper: Keeper, engine: Engine, number: int, told: dict[str, int], chance: random.Random
) -> None:
    """One round: readings, entries, now and then a violation, its acknowledgement, a request."""
    t_us = number * 1_000
    for edge in range(chance.randrange(4)):
        keeper.tape(t_us, "kiln-switch.hasp", edge % 2 == 0)
        told["tape"] += 1
    keeper.entry(OutputEntry(t_us, "kiln-switch", "red", Shows.STEADY), t_us)
    keeper.entry(PhaseEntry(t_us, "kiln", Phase.OPENING, "kiln-switch"), t_us)
    told["entries"] += 2
    keeper.standing("kiln-switch.hasp", True, True, number, t_us)
    if number % 5 == 0:
        told["violations"] += 1
        told["entries"] += 1
        rule = Violation(t_us, told["violations"], Rule.LEFT_LINED, "kiln-switch", "kiln", ())
        keeper.entry(rule, t_us)
    if number % 7 == 0 and told["acknowledged"] < told["violations"]:
        told["acknowledged"] += 1
        keeper.acknowledged(told["acknowledged"], t_us, "seen")
    if number % 6 == 0:
        request = leave_order(engine, "ask", spur="kiln", wall_us=t_us)
        told["requests"] += 1
        keeper.answer(request, number % 12 == 0, "no")
        told["answers"] += 1


def main(arguments: list[str]) -> None:
    """Keep, in the folder that is watched."""
    folder, synchronous, rounds = Path(arguments[0]), arguments[1], int(arguments[2])
    promises = Promises(folder / "promises")
    keep(folder / "logbook.sqlite", promises, synchronous, rounds)


if __name__ == "__main__":
    main(sys.argv[1:])
