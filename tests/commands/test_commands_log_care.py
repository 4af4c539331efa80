"""``spurlock log`` checking, pruning and following, and ``restore`` beside a running engine."""

from __future__ import annotations

import sqlite3
import subprocess
import sys
import threading
import time
from collections.abc import Callable, Iterator
from contextlib import closing, contextmanager
from datetime import date
from pathlib import Path

import pytest
from commands_console import Console

from firmware_py.core.entries import StageEntry
from firmware_py.core.names import Stage
from firmware_py.logbook.backing_up import back_up
from firmware_py.logbook.opening import open_engine
from firmware_py.logbook.writing import Keeper

FIRST = Path(__file__).parents[1] / "logbook" / "first_schema.sql"
DAY_US = 86_400 * 1_000_000


@pytest.fixture
def logbook(tmp_path: Path) -> Path:
    """The first builds' logbook: an honest job that ended, forced points that did not."""
    path = tmp_path / "evening.sqlite"
    with closing(sqlite3.connect(path)) as made:
        made.executescript(FIRST.read_text("utf-8"))
    return path


def spoilt(path: Path, sql: str) -> None:
    with closing(sqlite3.connect(path)) as connection, connection:
        assert connection.execute(sql).rowcount > 0


def test_a_whole_logbook_is_verified(spurlock: Console, logbook: Path) -> None:
    told = spurlock("log", logbook, "--verify")
    assert (told.status, told.err) == (0, "")
    assert told.out.splitlines() == [
        "The database: sound",
        "Session 1: its tape replays to the 22 entries that it logged",
        "Session 2: its tape replays to the 11 entries that it logged",
    ]


@pytest.mark.parametrize(
    ("sql", "said"),
    [
        ("DELETE FROM violation WHERE number = 2", "violation 2 and its entry are not the same"),
        ("UPDATE violation SET at = 'x' WHERE number = 2", "violation 2 and its entry"),
        (
            "DELETE FROM entry WHERE what = 'violation' AND line LIKE '%: 2,%'",
            "violation 2 and its entry are not the same",
        ),
        (
            "DELETE FROM violation WHERE number = 2",
            "there is no violation 2, and there is one with a higher number",
        ),
        ("UPDATE entry SET t_us = 1 WHERE id = 30", "entry 30 is earlier than the one before"),
        ("UPDATE entry SET what = 'phase' WHERE id = 31", "tell two different things"),
        ("UPDATE entry SET line = 'x' WHERE id = 31", "entry 31 has a line that is not JSON"),
        ("UPDATE request SET accepted = NULL", "request 1 is half answered"),
        ("DELETE FROM session WHERE id = 1", "belongs to a row of session that is not there"),
        ("UPDATE tape SET t_us = 9 WHERE id = 36", "of the tape is earlier than the one before"),
        ("DELETE FROM tape WHERE id = 36", "its tape gives"),
        ("DELETE FROM entry WHERE id = 22", "it logged no more; its tape gives: at 165.02 s"),
        ("UPDATE session SET layout_toml = 'x' WHERE id = 1", "its tape can't be played"),
    ],
)
def test_what_is_wrong_is_found(spurlock: Console, logbook: Path, sql: str, said: str) -> None:
    spoilt(logbook, sql)
    told = spurlock("log", logbook, "--verify")
    assert (told.status, told.err) == (1, "")
    wrong = [line for line in told.out.splitlines() if "WRONG" in line]
    assert any(said in line for line in wrong), told.out


def test_overwritten_pages_are_found(spurlock: Console, logbook: Path) -> None:
    open_engine(str(logbook)).dispose()
    with logbook.open("r+b") as stream:
        stream.seek(5 * 4096)
        stream.write(b"\xff" * 4096)
    told = spurlock("log", logbook, "--verify")
    assert told.status == 1
    assert "damaged" in told.out


def test_a_session_that_was_cut_off_may_lack_its_last_entries(
    spurlock: Console, logbook: Path
) -> None:
    """A power cut may come between a reading on the tape and the entry that it causes."""
    spoilt(logbook, "DELETE FROM entry WHERE id = 33")
    spoilt(logbook, "DELETE FROM violation WHERE number = 5")
    assert spurlock("log", logbook, "--verify").status == 0
    spoilt(logbook, "UPDATE session SET ended_t_us = 400000000, ended_wall_us = 1 WHERE id = 2")
    assert spurlock("log", logbook, "--verify").status == 1


def test_one_session_alone_is_verified(spurlock: Console, logbook: Path) -> None:
    spoilt(logbook, "DELETE FROM entry WHERE id = 22")
    assert spurlock("log", logbook, "--verify", "--session", "2").status == 0
    assert spurlock("log", logbook, "--verify", "--session", "1").status == 1


def test_a_tape_with_a_gap_is_not_played(spurlock: Console, logbook: Path) -> None:
    open_engine(str(logbook)).dispose()
    spoilt(logbook, "UPDATE session SET tape_gap = '9 raw readings were dropped' WHERE id = 1")
    spoilt(logbook, "DELETE FROM tape WHERE id = 20")
    told = spurlock("log", logbook, "--verify", "--session", "1")
    assert told.status == 0
    assert "9 raw readings were dropped" in told.out


def sessions(path: Path) -> list[int]:
    with closing(sqlite3.connect(path)) as connection:
        return [row[0] for row in connection.execute("SELECT id FROM session ORDER BY id")]


def aged(path: Path, *days: float) -> None:
    """Have as many sessions as there are days, each last heard of so many days ago."""
    now_us = time.time_ns() // 1_000
    with closing(sqlite3.connect(path)) as connection, connection:
        connection.execute("DELETE FROM session WHERE id > 2")
        for id_, ago in enumerate(days, 1):
            at = round(now_us - ago * DAY_US)
            connection.execute(
                "INSERT OR IGNORE INTO session SELECT ?, layout_name, layout_path, layout_toml, "
                "simulated, ?, ?, 1, outset, tape_gap, opened FROM session WHERE id = 1",
                (id_, at, at),
            )
            changed = "UPDATE session SET began_wall_us = ?, ended_wall_us = ? WHERE id = ?"
            connection.execute(changed, (at, at, id_))


@pytest.mark.parametrize(
    ("days", "kept"),
    [
        ((40, 20, 5), [2, 3]),
        ((40, 35, 33), [3]),
        ((5, 40, 3), [1, 2, 3]),
        ((40, -3650, 5), [3]),
        ((40, 20_000, 5), [3]),
    ],
    ids=["old one", "newest stays", "clock behind", "clock ahead", "clock at 1970"],
)
def test_old_sessions_are_removed(
    spurlock: Console, logbook: Path, days: tuple[float, ...], kept: list[int]
) -> None:
    open_engine(str(logbook)).dispose()
    aged(logbook, *days)
    told = spurlock("log", logbook, "--prune-days", "30", "--yes")
    assert (told.status, told.err) == (0, "")
    assert sessions(logbook) == kept
    with closing(sqlite3.connect(logbook)) as connection:
        for table in ("entry", "tape", "violation"):
            left = connection.execute(f"SELECT DISTINCT session_id FROM {table}").fetchall()
            assert {row[0] for row in left} <= set(kept)
    assert spurlock("log", logbook, "--verify").status in (0, 1)


def test_pruning_gives_the_disk_its_space_back(spurlock: Console, logbook: Path) -> None:
    open_engine(str(logbook)).dispose()
    aged(logbook, 40, 5)
    with closing(sqlite3.connect(logbook)) as connection, connection:
        rows = ((t_us,) for t_us in range(50_000))
        connection.executemany("INSERT INTO tape (session_id, t_us) VALUES (1, ?)", rows)
    before = logbook.stat().st_size
    spurlock("log", logbook, "--prune-days", "30", "--yes")
    assert logbook.stat().st_size < before / 3
    assert spurlock("log", logbook, "--verify").status == 0


@pytest.mark.parametrize("answer", ["no", "", EOFError])
def test_without_a_yes_nothing_is_removed(
    spurlock: Console, logbook: Path, monkeypatch: pytest.MonkeyPatch, answer: object
) -> None:
    open_engine(str(logbook)).dispose()
    aged(logbook, 40, 5)

    def said(_question: str) -> str:
        if isinstance(answer, str):
            return answer
        raise EOFError

    monkeypatch.setattr("builtins.input", said)
    told = spurlock("log", logbook, "--prune-days", "30")
    assert told.status == 1
    assert told.out.endswith("Nothing was removed.\n")
    assert sessions(logbook) == [1, 2]


def test_pruning_makes_no_logbook(spurlock: Console, tmp_path: Path) -> None:
    assert spurlock("log", tmp_path / "none.sqlite", "--prune-days", "1").status == 2
    assert list(tmp_path.iterdir()) == []


@contextmanager
def beating(path: Path) -> Iterator[Keeper]:
    """A keeper whose engine is well: it beats."""
    engine = open_engine(str(path))
    keeper = Keeper(engine)
    stop = threading.Event()

    def beat() -> None:
        while not stop.wait(0.1):
            keeper.pulse("guarding")

    thread = threading.Thread(target=beat)
    keeper.pulse("guarding")
    keeper.flush()
    thread.start()
    try:
        yield keeper
    finally:
        stop.set()
        thread.join()
        keeper.pulse("stopped")
        keeper.close()
        engine.dispose()


def test_nothing_is_restored_beside_a_running_engine(spurlock: Console, logbook: Path) -> None:
    engine = open_engine(str(logbook))
    backup = back_up(engine, date(2031, 4, 7))
    engine.dispose()
    with beating(logbook):
        inode = logbook.stat().st_ino
        told = spurlock("restore", logbook, backup, "--yes")
        assert told.status == 2
        assert "an engine keeps this logbook; stop it first" in told.err
        assert logbook.stat().st_ino == inode
    assert spurlock("restore", logbook, backup, "--yes").status == 0


def test_a_damaged_logbook_is_replaced_and_kept(spurlock: Console, logbook: Path) -> None:
    engine = open_engine(str(logbook))
    backup = back_up(engine, date(2031, 4, 7))
    engine.dispose()
    damaged = b"\xff" * 30_000
    logbook.write_bytes(damaged)
    told = spurlock("restore", logbook, backup, "--yes")
    assert told.status == 0, told.err
    assert "which can't be read" in told.out
    [aside] = logbook.parent.glob("evening-replaced-*.sqlite")
    assert aside.read_bytes() == damaged
    assert spurlock("log", logbook, "--verify").status == 0


def test_an_old_builds_backup_is_brought_up_to_date(spurlock: Console, logbook: Path) -> None:
    backup = logbook.with_name("old.sqlite")
    backup.write_bytes(logbook.read_bytes())
    before = backup.read_bytes()
    logbook.unlink()
    assert spurlock("restore", logbook, backup, "--yes").status == 0
    assert backup.read_bytes() == before, "a backup is never changed"
    assert len(spurlock("log", logbook, "--sessions").out.splitlines()) == 2


def waited_for(met: Callable[[], bool]) -> None:
    """Wait for a thing that another process does; the run's own time limit is the guard."""
    while not met():
        time.sleep(0.02)


def test_following_goes_on_to_the_next_session(logbook: Path, tmp_path: Path) -> None:
    told = tmp_path / "told.txt"
    script = "import sys; from firmware_py.commands.main import main; main(sys.argv[1:])"
    words = ["log", str(logbook), "--follow", "--out", str(told)]
    process = subprocess.Popen([sys.executable, "-c", script, *words])
    try:
        waited_for(lambda: told.exists() and "not-returned" in told.read_text())
        engine = open_engine(str(logbook))
        keeper = Keeper(engine)
        keeper.begin_session(
            layout_name="x", layout_path="x", layout_toml="", simulated=True, outset={}
        )
        keeper.entry(StageEntry(1_000_000, "mill-switch", Stage.UNLOCKED), 1)
        keeper.flush()
        waited_for(lambda: "0:00:01.000  stage       mill-switch is unlocked" in told.read_text())
        keeper.remark("The session ended.", 2_000_000)
        keeper.flush()
        waited_for(lambda: "0:00:02.000  remark      The session ended." in told.read_text())
        keeper.close()
        engine.dispose()
    finally:
        process.terminate()
        process.wait()
    assert told.read_text().count("not-returned") == 1
