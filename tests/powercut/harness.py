"""Records a keeper's work once, and cuts the power at many moments of it."""

from __future__ import annotations

import contextlib
import os
import random
import shutil
import sqlite3
import subprocess
import sys
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass, field
from pathlib import Path

from tests.powercut.cutting import PROMISES, Disk, Keeps, Step, steps
from tests.powercut.keeping import COUNTS

SOURCE = Path(__file__).with_name("recorder.c")
ROOT = Path(__file__).parents[2]


@dataclass
class Outcome:
    """What so many cuts came to; ``damaged`` and ``lost`` say what each bad one had."""

    cuts: int = 0
    moments: int = 0
    syncs: int = 0
    promised: int = 0
    kept_unsynced: Counter[str] = field(default_factory=Counter)
    damaged: list[str] = field(default_factory=list)
    lost: list[str] = field(default_factory=list)


def build(folder: Path) -> Path:
    """Compile the recorder. Raises ``CalledProcessError`` if that fails."""
    library = folder / "recorder.so"
    compiler = shutil.which("cc") or shutil.which("gcc") or "cc"
    command = [compiler, "-O1", "-shared", "-fPIC", "-o", str(library), str(SOURCE), "-lpthread"]
    subprocess.run([*command, "-ldl"], check=True, capture_output=True, timeout=60)
    return library


def record(library: Path, folder: Path, synchronous: str, rounds: int) -> list[Step]:
    """Let a keeper work under the recorder; answers what it did to its files."""
    watched = folder / "watched"
    watched.mkdir()
    written = folder / "record"
    surroundings = os.environ | {
        "LD_PRELOAD": str(library),
        "SPURLOCK_WATCHED": f"{watched}/",
        "SPURLOCK_RECORD": str(written),
    }
    command = [sys.executable, "-m", "tests.powercut.keeping", str(watched), synchronous]
    subprocess.run([*command, str(rounds)], cwd=ROOT, env=surroundings, check=True, timeout=100)
    return list(steps(written.read_bytes()))


def cut_at_random(done: Sequence[Step], folder: Path, cuts: int, seed: int) -> Outcome:
    """Cut the power at so many random moments, each time with another luck, and judge."""
    chance = random.Random(seed)
    moments = sorted(_moment(done, chance) for _ in range(cuts))
    disk, outcome = Disk(), Outcome(moments=len(done))
    place = 0
    for moment in moments:
        for step in done[place:moment]:
            disk.take(step)
        place = moment
        keeps = chance.choice([Keeps.NOTHING, Keeps.SOME, Keeps.SOME, Keeps.ALL])
        left = folder / f"cut-{outcome.cuts}"
        left.mkdir()
        disk.cut(left, keeps, chance)
        judge(left, moment, keeps, disk.promised, outcome)
        shutil.rmtree(left)
    outcome.syncs = disk.syncs
    outcome.promised = sum(disk.promised.values())
    return outcome


def _moment(done: Sequence[Step], chance: random.Random) -> int:
    """A random moment; every other one is near a step that is no mere append to the WAL."""
    if chance.random() < 0.5:
        return chance.randrange(1, len(done))
    rare = [n for n, step in enumerate(done) if not step.name.endswith(("-wal", PROMISES))]
    return min(max(chance.choice(rare) + chance.randrange(-2, 4), 1), len(done) - 1)


def judge(
    left: Path, moment: int, keeps: Keeps, promised: dict[str, int], outcome: Outcome
) -> None:
    """Open what a cut left as the next start would, and count."""
    outcome.cuts += 1
    outcome.kept_unsynced[keeps.value] += 1
    where = f"cut {outcome.cuts} at moment {moment}, {keeps.value} of the unsynced kept"
    if not (left / "logbook.sqlite").exists():
        if promised:
            outcome.lost.append(f"{where}: no file, where {promised} was promised")
        return
    try:
        found, counts = _opened(left / "logbook.sqlite")
    except sqlite3.DatabaseError as trouble:
        outcome.damaged.append(f"{where}: {trouble}")
        return
    if found != ["ok"]:
        outcome.damaged.append(f"{where}: {'; '.join(found[:3])}")
    missing = {
        name: (counts.get(name, 0), count)
        for name, count in promised.items()
        if counts.get(name, 0) < count
    }
    if missing:
        outcome.lost.append(f"{where}: there are (found, promised) {missing}")


def _opened(path: Path) -> tuple[list[str], dict[str, int]]:
    with contextlib.closing(sqlite3.connect(path)) as database:
        found = [str(row[0]) for row in database.execute("PRAGMA integrity_check")]
        tables = {row[0] for row in database.execute("SELECT name FROM sqlite_master")}
        if "pulse" not in tables:
            return found, {}
        counts = {name: int(database.execute(text).fetchone()[0]) for name, text in COUNTS.items()}
    return found, counts
