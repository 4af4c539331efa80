"""The host's jobs and settings outlive their file: pages are overwritten for real each time."""

from __future__ import annotations

import sqlite3
from collections.abc import Callable
from contextlib import closing
from datetime import date, datetime
from pathlib import Path

import pytest
from sqlalchemy import Engine

from firmware_py.logbook import salvage
from firmware_py.logbook.backing_up import back_up
from firmware_py.logbook.damage import damage_of, open_or_begin_anew
from firmware_py.logbook.opening import open_engine
from firmware_py.logbook.reading import Reader
from firmware_py.logbook.screen.jobs import Car, Job, JobStop, jobs_of, save_job
from firmware_py.logbook.screen.settings import change, settings
from firmware_py.logbook.writing import Keeper

Begin = Callable[[Keeper], int]
BASIN = "Slate Basin"
WORK = JobStop("mill", pull=(Car("flat 12", "upper rack"),), note="call at the office")
PAGE = 4_096


def prepare(engine: Engine, jobs: int = 2) -> None:
    """What a host prepares."""
    for number in range(jobs):
        save_job(engine, BASIN, Job(f"Turn {number}", "Hill crew", 4, stops=(WORK,)), number)
    change(engine, "pin", "scrypt$1")
    change(engine, "welcome", "Tea at four ☕")


def pages_of(path: Path, name: str) -> list[int]:
    """The leaf pages of a table or an index; they count from 1. All is brought to the file."""
    with closing(sqlite3.connect(path)) as database:
        database.execute("PRAGMA wal_checkpoint(TRUNCATE)")
        try:
            rows = database.execute(
                "SELECT pageno FROM dbstat WHERE name = ? AND pagetype = 'leaf' ORDER BY path",
                [name],
            ).fetchall()
        except sqlite3.OperationalError:
            pytest.skip("this SQLite can't tell which pages are whose: it has no dbstat")
    return [page for (page,) in rows]


def overwrite(path: Path, *pages: int) -> None:
    with path.open("r+b") as file:
        for page in pages:
            file.seek((page - 1) * PAGE)
            file.write(b"\xa5" * PAGE)


def all_pages_but_the_first(path: Path) -> list[int]:
    pages_of(path, "job")
    return list(range(2, path.stat().st_size // PAGE + 1))


def names(engine: Engine) -> list[str]:
    return [job.name for job in jobs_of(engine, BASIN)]


@pytest.fixture
def closed(path: Path) -> Path:
    """A logbook with jobs and settings, which nobody has open."""
    engine = open_engine(str(path))
    prepare(engine)
    engine.dispose()
    return path


def begun_anew(path: Path) -> tuple[Engine, str]:
    assert damage_of(path) is not None
    engine, said = open_or_begin_anew(str(path))
    assert said is not None
    return engine, said


def test_damage_elsewhere_costs_the_host_nothing(closed: Path) -> None:
    """At a start: the pages of another table are overwritten."""
    before = open_engine(str(closed))
    jobs, kept = jobs_of(before, BASIN), settings(before)
    before.dispose()
    overwrite(closed, *pages_of(closed, "request"))
    damaged = closed.read_bytes()
    engine, said = begun_anew(closed)
    assert jobs_of(engine, BASIN) == jobs
    assert jobs[0].stops == (WORK,)
    assert settings(engine) == kept
    assert "2 jobs of the host's could be saved; 2 settings of the host's could be saved." in said
    engine.dispose()
    [aside] = closed.parent.glob("logbook-damaged-*")
    assert aside.read_bytes() == damaged, "what it was saved from stays as it was"


def test_damage_while_the_engine_runs(
    path: Path, engine: Engine, keeper: Keeper, session: int, reader: Reader
) -> None:
    prepare(engine)
    overwrite(path, *pages_of(path, "entry"), *pages_of(path, "tape"))
    keeper.mend("a test says so")
    assert keeper.flush()
    assert keeper.flush()
    assert names(engine) == ["Turn 0", "Turn 1"]
    assert settings(engine)["welcome"] == "Tea at four ☕"
    assert damage_of(path) is None
    said = reader.remarks(session)[0].text
    assert "2 jobs of the host's could be saved" in said


def test_a_damaged_page_hides_only_itself(path: Path) -> None:
    engine = open_engine(str(path))
    prepare(engine, jobs=120)
    engine.dispose()
    pages = pages_of(path, "job")
    assert len(pages) >= 5
    overwrite(path, pages[2])
    opened, said = begun_anew(path)
    saved = names(opened)
    assert "Turn 0" in saved
    assert "Turn 119" in saved
    assert 60 < len(saved) < 120
    assert f"{len(saved)} jobs of the host's could be saved ({len(saved)} from the damaged" in said
    assert len(settings(opened)) == 2
    opened.dispose()


def test_a_backup_gives_what_the_damaged_page_hides(path: Path) -> None:
    engine = open_engine(str(path))
    prepare(engine, jobs=120)
    back_up(engine, date(2031, 4, 7))
    save_job(engine, BASIN, Job("Turn 0 by night", id=1), 1_000)
    engine.dispose()
    pages = pages_of(path, "job")
    overwrite(path, pages[2])
    opened, said = begun_anew(path)
    assert len(names(opened)) == 120
    assert names(opened)[0] == "Turn 0 by night", "the damaged file is the newer one"
    assert "from the damaged file, " in said
    assert "from the backup of 2031-04-07): look them over" in said
    opened.dispose()


@pytest.mark.parametrize("first_page", [False, True])
def test_a_file_that_gives_nothing_has_a_backup(closed: Path, first_page: bool) -> None:
    engine = open_engine(str(closed))
    back_up(engine, date(2031, 4, 6))
    save_job(engine, BASIN, Job("Night turn"), 5)
    back_up(engine, date(2031, 4, 7))
    engine.dispose()
    overwrite(closed, *all_pages_but_the_first(closed), *([1] if first_page else []))
    opened, said = begun_anew(closed)
    assert names(opened) == ["Turn 0", "Turn 1", "Night turn"]
    assert settings(opened)["pin"] == "scrypt$1"
    assert "3 jobs of the host's could be saved (3 from the backup of 2031-04-07)" in said
    opened.dispose()


def test_a_damaged_backup_is_passed_over_for_an_older_one(closed: Path) -> None:
    engine = open_engine(str(closed))
    back_up(engine, date(2031, 4, 6))
    newest = back_up(engine, date(2031, 4, 7))
    engine.dispose()
    overwrite(newest, 1)
    overwrite(closed, *all_pages_but_the_first(closed))
    opened, said = begun_anew(closed)
    assert names(opened) == ["Turn 0", "Turn 1"]
    assert "2031-04-06" in said
    opened.dispose()


def test_it_is_said_that_nothing_could_be_saved(closed: Path) -> None:
    overwrite(closed, *all_pages_but_the_first(closed))
    opened, said = begun_anew(closed)
    assert names(opened) == []
    assert "no job of the host's could be saved" in said
    assert "no setting of the host's could be saved" in said
    opened.dispose()


def test_nothing_is_said_where_there_was_nothing_to_save(path: Path) -> None:
    open_engine(str(path)).dispose()
    overwrite(path, *pages_of(path, "request"))
    opened, said = begun_anew(path)
    assert "host" not in said
    opened.dispose()


def test_a_deleted_logbook_is_filled_from_its_backup(closed: Path) -> None:
    engine = open_engine(str(closed))
    back_up(engine, date(2031, 4, 7))
    engine.dispose()
    closed.unlink()
    opened, said = open_or_begin_anew(str(closed))
    assert names(opened) == ["Turn 0", "Turn 1"]
    assert said is not None
    assert said.startswith("A new logbook is begun; 2 jobs of the host's could be saved (2 from")
    opened.dispose()


def test_a_deleted_logbook_under_a_writer_that_had_no_connection_yet(
    path: Path, begin: Begin
) -> None:
    engine = open_engine(str(path))
    prepare(engine)
    back_up(engine, date(2031, 4, 7))
    engine.dispose()
    keeper = Keeper(engine)
    for ending in ("", "-wal", "-shm"):
        Path(f"{path}{ending}").unlink(missing_ok=True)
    begin(keeper)
    assert keeper.flush()
    assert names(engine) == ["Turn 0", "Turn 1"]
    keeper.close()
    engine.dispose()


def test_a_cut_between_setting_aside_and_saving_loses_nothing(closed: Path) -> None:
    """Killed after the rename, an engine finds no file at its next start, but one beside it."""
    overwrite(closed, *pages_of(closed, "request"))
    closed.rename(closed.with_name("logbook-damaged-2031-04-07-203015.sqlite"))
    opened, said = open_or_begin_anew(str(closed))
    assert names(opened) == ["Turn 0", "Turn 1"]
    assert said is not None
    assert "from the damaged logbook-damaged-2031-04-07-203015.sqlite" in said
    opened.dispose()


def test_a_logbook_that_is_in_use_is_left_as_it_is(
    path: Path, engine: Engine, keeper: Keeper, session: int
) -> None:
    """The host has taken his jobs away since the backup: they do not come back."""
    prepare(engine)
    back_up(engine, date(2031, 4, 7))
    change(engine, "welcome", None)
    opened, said = open_or_begin_anew(str(path))
    assert said is None
    assert "welcome" not in settings(opened)
    opened.dispose()


def test_what_the_new_logbook_has_already_stays(closed: Path, tmp_path: Path) -> None:
    saved = salvage.gather(closed, closed)
    engine = open_engine(str(tmp_path / "new.sqlite"))
    change(engine, "pin", "a newer one")
    assert "2 jobs" in salvage.put(engine, saved)
    assert settings(engine) == {"pin": "a newer one", "welcome": "Tea at four ☕"}
    engine.dispose()


@pytest.mark.parametrize(
    ("column", "value"),
    [
        ("stops", "[{]"),
        ("stops", '[{"spot": 3}]'),
        ("keys", "CAST(x'ff' AS TEXT)"),
        ("name", "a\0b"),
        ("cars", "many"),
    ],
)
def test_a_row_that_no_screen_could_read_is_left(closed: Path, column: str, value: str) -> None:
    with closing(sqlite3.connect(closed)) as database, database:
        given = value if value.startswith("CAST") else "?"
        what = f"UPDATE job SET {column} = {given} WHERE id = 1"
        database.execute(what, [] if given == value else [value])
    saved = salvage.gather(closed, closed)
    assert [row["name"] for row in saved.rows["job"]] == ["Turn 1"]
    assert "1 job of the host's could be saved (1 from the damaged file)" in saved.said


def test_a_version_without_jobs_has_none_to_lose(path: Path) -> None:
    with closing(sqlite3.connect(path)) as database, database:
        database.execute("CREATE TABLE session (id INTEGER PRIMARY KEY)")
    assert salvage.gather(path, path) == salvage.Salvaged({name: [] for name in salvage.KEPT}, "")


def test_trouble_of_any_kind_is_said_and_ends_there(
    closed: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def trouble(*_: object) -> None:
        raise RuntimeError("the card is out")

    monkeypatch.setattr(salvage, "_read", trouble)
    overwrite(closed, *pages_of(closed, "request"))
    opened, said = open_or_begin_anew(str(closed), now=lambda: datetime(2031, 4, 7))
    assert said is not None
    assert "could not be saved: the card is out" in said
    opened.dispose()


def test_a_new_logbook_that_takes_nothing_is_said(closed: Path, tmp_path: Path) -> None:
    saved = salvage.gather(closed, closed)
    engine = open_engine(str(tmp_path / "new.sqlite"))
    with engine.begin() as connection:
        connection.exec_driver_sql("DROP TABLE job")
    assert "could not be taken over" in salvage.put(engine, saved)
    engine.dispose()
