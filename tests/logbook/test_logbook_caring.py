"""The nightly backup and the look for damage, on a clock of the test's own."""

from __future__ import annotations

import os
import sqlite3
from contextlib import closing
from dataclasses import dataclass, field
from datetime import date, datetime, timedelta
from pathlib import Path

import pytest
from sqlalchemy import Engine, create_engine

from firmware_py.core.entries import StageEntry
from firmware_py.core.names import Stage
from firmware_py.logbook.backing_up import back_up, backup_of, backups, is_due, rotate
from firmware_py.logbook.caring import LOOK_EVERY_S, TRY_AGAIN_S, Caretaker
from firmware_py.logbook.damage import damage_of
from firmware_py.logbook.errors import LogbookError
from firmware_py.logbook.opening import open_engine
from firmware_py.logbook.reading import Reader
from firmware_py.logbook.writing import Keeper

TODAY = date(2031, 4, 7)
NIGHT = datetime(2031, 4, 7, 3, 0)


@dataclass
class Times:
    """Both clocks, as the test sets them."""

    now: datetime = NIGHT
    steady: float = 0.0
    said: list[str] = field(default_factory=list)
    mended: list[str] = field(default_factory=list)

    def caretaker(self, engine: Engine) -> Caretaker:
        return Caretaker(
            engine,
            self.said.append,
            self.mended.append,
            now=lambda: self.now,
            clock=lambda: self.steady,
        )


@pytest.fixture
def times() -> Times:
    return Times()


def checked(caretaker: Caretaker) -> None:
    caretaker.check()
    assert caretaker.wait()


def test_a_backup_holds_what_was_committed_while_it_is_written_on(
    path: Path, engine: Engine, keeper: Keeper, session: int
) -> None:
    keeper.entry(StageEntry(1, "mill-switch", Stage.LINED), 1)
    keeper.flush()
    made = back_up(engine, TODAY)
    assert made == path.parent / "backups" / "logbook-2031-04-07.sqlite"
    keeper.entry(StageEntry(2, "mill-switch", Stage.IN_USE), 2)
    keeper.flush()
    assert sorted(there.name for there in made.parent.iterdir()) == [made.name]
    with closing(sqlite3.connect(f"file:{made}?mode=ro&immutable=1", uri=True)) as copy:
        assert copy.execute("SELECT t_us FROM entry").fetchall() == [(1,)]
        assert copy.execute("PRAGMA journal_mode").fetchone() == ("delete",)
    assert damage_of(made) is None


def test_one_backup_each_day_after_three(path: Path, engine: Engine, times: Times) -> None:
    caretaker = times.caretaker(engine)
    times.now = NIGHT - timedelta(minutes=1)
    checked(caretaker)
    assert times.said == []
    times.now = NIGHT
    checked(caretaker)
    checked(caretaker)
    assert times.said == ["The logbook was backed up as backups/logbook-2031-04-07.sqlite."]
    times.now, times.steady = NIGHT + timedelta(days=1, hours=9), 33 * 3_600.0
    checked(caretaker)
    assert list(backups(path)) == [TODAY, TODAY + timedelta(days=1)]


def test_a_backup_that_fails_is_a_remark_and_is_tried_again_later(
    path: Path, engine: Engine, times: Times
) -> None:
    folder = path.parent / "backups"
    folder.write_text("somebody's file has the name of the folder")
    caretaker = times.caretaker(engine)
    checked(caretaker)
    checked(caretaker)
    [said] = times.said
    assert said.startswith("The nightly backup failed: ")
    folder.unlink()
    times.steady += TRY_AGAIN_S
    checked(caretaker)
    assert "backed up" in times.said[1]


def test_a_damaged_log_makes_no_backup_and_leaves_the_old_ones(path: Path, engine: Engine) -> None:
    with engine.begin() as connection:
        for n in range(2_000):
            connection.exec_driver_sql(
                "INSERT INTO remark (wall_us, text) VALUES (1, ?)", (f"{n}",)
            )
    old = back_up(engine, TODAY - timedelta(days=1))
    engine.dispose()
    with path.open("r+b") as stream:
        stream.seek(path.stat().st_size - 4 * 4096)
        stream.write(os.urandom(4 * 4096))
    with pytest.raises(LogbookError, match=r"no backup could be made|malformed"):
        back_up(engine, TODAY)
    assert [there.name for there in old.parent.iterdir()] == [old.name]


def test_a_lock_does_not_keep_the_backup_from_being_made(
    path: Path, engine: Engine, session: int
) -> None:
    with closing(sqlite3.connect(path, isolation_level=None)) as other:
        other.execute("BEGIN IMMEDIATE")
        made = back_up(engine, TODAY)
    assert Reader(open_engine(str(made))).session() is not None


def test_what_an_interrupted_backup_left_is_cleared_away(path: Path, engine: Engine) -> None:
    left = backup_of(path, TODAY).with_name("logbook-2031-04-06.sqlite.part")
    left.parent.mkdir()
    left.write_text("half of it")
    back_up(engine, TODAY)
    assert not left.exists()


def test_days_to_come_push_nothing_out(path: Path) -> None:
    """The clock stood ten years ahead for a while: those backups take nobody's place."""
    folder = path.parent / "backups"
    folder.mkdir()
    ahead = [TODAY + timedelta(days=3650 + n) for n in range(9)]
    for day in (*ahead, *(TODAY - timedelta(days=n) for n in range(7))):
        backup_of(path, day).touch()
    assert rotate(path, TODAY) == []
    assert len(backups(path)) == 16


def test_other_files_are_left_alone(path: Path) -> None:
    folder = path.parent / "backups"
    folder.mkdir()
    others = ["logbook-2031-02-31.sqlite", "logbook-old.sqlite", "annex-2001-01-01.sqlite"]
    for name in others:
        (folder / name).touch()
    for n in range(100):
        backup_of(path, TODAY - timedelta(days=n)).touch()
    rotate(path, TODAY)
    assert {there.name for there in folder.iterdir()} >= set(others)
    assert len(backups(path)) == 11


def test_it_is_due_when_switched_on_in_the_evening(path: Path) -> None:
    assert is_due(path, datetime(2031, 4, 7, 19, 30))
    assert not is_due(path, datetime(2031, 4, 7, 0, 30))


def test_damage_is_looked_for_now_and_then(path: Path, engine: Engine, times: Times) -> None:
    times.now = datetime(2031, 4, 7, 1, 0)
    caretaker = times.caretaker(engine)
    engine.dispose()
    with path.open("r+b") as stream:
        stream.seek(4096)
        stream.write(os.urandom(path.stat().st_size - 4096))
    checked(caretaker)
    assert times.mended == []
    times.steady += LOOK_EVERY_S
    checked(caretaker)
    assert len(times.mended) == 1
    checked(caretaker)
    assert len(times.mended) == 1


def test_a_servers_database_is_its_servers_to_look_after(times: Times) -> None:
    server = create_engine("sqlite:///file:somewhere?uri=true")
    times.caretaker(server).check()
    assert times.said == []
    with pytest.raises(LogbookError, match="back up its server"):
        back_up(server, TODAY)
