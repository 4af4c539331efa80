"""Logbooks of other versions: upgraded with all that is in them, or refused."""

from __future__ import annotations

import re
import sqlite3
import subprocess
import sys
from collections.abc import Callable, Iterator
from contextlib import AbstractContextManager, closing, contextmanager
from pathlib import Path

import pytest
from alembic.autogenerate import compare_metadata
from alembic.config import Config
from alembic.migration import MigrationContext
from alembic.script import ScriptDirectory
from sqlalchemy import create_engine

from firmware_py.logbook import migrations, versions
from firmware_py.logbook.errors import LogbookError
from firmware_py.logbook.opening import open_engine, open_to_read
from firmware_py.logbook.reading import Reader
from firmware_py.logbook.schema import Base
from firmware_py.logbook.upgrading import upgrade

Locked = Callable[[], AbstractContextManager[None]]

FIRST = (Path(__file__).parent / "first_schema.sql").read_text(encoding="utf-8")
"""What sqlite3 dumped of a logbook that the first builds wrote: two sessions from tests/tapes."""


@pytest.fixture
def old(path: Path) -> Path:
    """A logbook as the first builds left it."""
    with closing(sqlite3.connect(path)) as made:
        made.executescript(FIRST)
        made.execute("PRAGMA journal_mode = WAL")
    return path


@contextmanager
def plainly(path: Path) -> Iterator[sqlite3.Connection]:
    with closing(sqlite3.connect(path)) as connection:
        yield connection


def everything(path: Path) -> dict[str, list[tuple[object, ...]]]:
    """All rows of the tables of the first builds, without the columns that came later."""
    with plainly(path) as connection:
        tables = re.findall(r"CREATE TABLE (\w+)", FIRST)
        columns = {name: FIRST.split(f"CREATE TABLE {name} (")[1] for name in tables}
        names = {name: re.findall(r"^\t(\w+) [A-Z]+", text.split("PRIMARY KEY")[0], re.MULTILINE)
                 for name, text in columns.items()}  # fmt: skip
        return {
            name: connection.execute(f"SELECT {', '.join(names[name])} FROM {name}").fetchall()
            for name in tables
        }


def shape(path: Path) -> dict[str, set[str]]:
    """Every table and index, as what it is made of, in any order."""
    with plainly(path) as connection:
        rows = connection.execute("SELECT name, sql FROM sqlite_master WHERE sql IS NOT NULL")
        return {
            name: set(re.findall(r"\w+(?: [A-Z]+)*", re.sub(r"\s+|CONSTRAINT \S+", " ", sql)))
            for name, sql in rows
        }


def test_a_first_builds_file_is_upgraded_and_keeps_every_row(old: Path) -> None:
    before = everything(old)
    assert sum(map(len, before.values())) > 80
    engine = open_engine(str(old))
    assert everything(old) == before
    newest, first = Reader(engine).sessions()
    assert (newest.ended_t_us, newest.tape_gap, first.ended_t_us) == (None, None, 400_000_000)
    violations = Reader(engine).violations(newest.id)
    assert [violation.number for violation in violations] == [5, 4, 3, 2, 1]
    assert violations[-1].note == "seen by the host"
    engine.dispose()
    with plainly(old) as connection:
        assert connection.execute("SELECT * FROM alembic_version").fetchall() == [("0007",)]
        assert connection.execute("PRAGMA integrity_check").fetchall() == [("ok",)]


def test_an_upgraded_file_has_the_tables_of_a_new_one(old: Path, tmp_path: Path) -> None:
    open_engine(str(old)).dispose()
    new = tmp_path / "new.sqlite"
    open_engine(str(new)).dispose()
    assert shape(old) == shape(new)


def test_migrations_from_nothing_give_the_tables_of_a_new_file(tmp_path: Path) -> None:
    step, new = tmp_path / "step.sqlite", tmp_path / "new.sqlite"
    open_engine(str(new)).dispose()
    engine = create_engine(f"sqlite:///{step}")
    with engine.begin() as connection:
        upgrade(connection)
    with engine.connect() as connection:
        assert compare_metadata(MigrationContext.configure(connection), Base.metadata) == []
    engine.dispose()
    assert {name: parts - {"BIGINT"} for name, parts in shape(step).items()} == {
        name: parts - {"BIGINT"} for name, parts in shape(new).items()
    }


def test_the_known_versions_are_the_migrations() -> None:
    config = Config()
    config.set_main_option("script_location", str(Path(str(migrations.__path__[0]))))
    scripts = ScriptDirectory.from_config(config)
    there = tuple(script.revision for script in reversed(list(scripts.walk_revisions())))
    assert there == versions.KNOWN


def test_a_newer_logbook_is_refused_and_left_alone(path: Path) -> None:
    open_engine(str(path)).dispose()
    with plainly(path) as connection, connection:
        connection.execute("UPDATE alembic_version SET version_num = '0999'")
    for opened in (open_engine, open_to_read):
        with pytest.raises(LogbookError, match=r"version 0999, .* up to 0007; install the newer"):
            opened(str(path))
    with plainly(path) as connection:
        assert connection.execute("SELECT * FROM alembic_version").fetchall() == [("0999",)]


def test_another_programs_database_is_not_migrated(path: Path) -> None:
    with plainly(path) as other:
        other.execute("CREATE TABLE session (id INTEGER PRIMARY KEY, cookie TEXT)")
    for _ in range(2):
        with pytest.raises(LogbookError, match="has no column 'layout_name'; name another file"):
            open_engine(str(path))
    with plainly(path) as other:
        assert other.execute("SELECT name FROM sqlite_master").fetchall() == [("session",)]


def test_an_upgrade_that_fails_changes_nothing(old: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    before, tables = everything(old), shape(old)
    monkeypatch.setattr("firmware_py.logbook.preparing.upgrade", half_way)
    with pytest.raises(LogbookError, match="syntax error"):
        open_engine(str(old))
    monkeypatch.undo()
    assert (everything(old), shape(old)) == (before, tables)
    open_engine(str(old)).dispose()


def half_way(connection: object) -> None:
    upgrade(connection)  # type: ignore[arg-type] # a connection, as the real one gets
    connection.exec_driver_sql("this is not SQL")  # type: ignore[attr-defined] # a connection


def test_processes_that_upgrade_at_once(old: Path) -> None:
    before = everything(old)
    code = "import sys; from firmware_py.logbook.opening import open_engine as o; o(sys.argv[1])"
    running = [subprocess.Popen([sys.executable, "-c", code, str(old)]) for _ in range(3)]
    assert [process.wait(60) for process in running] == [0, 0, 0]
    assert everything(old) == before


def test_an_old_logbook_that_is_locked_is_told(old: Path, locked: Locked) -> None:
    with locked(), pytest.raises(LogbookError, match="keeps it locked; close that program"):
        open_engine(str(old), busy_ms=1)


def test_opening_a_logbook_of_today_does_not_load_alembic(path: Path) -> None:
    code = (
        "import sys; from firmware_py.logbook.opening import open_engine as o; "
        "o(sys.argv[1]); o(sys.argv[1]); assert 'alembic' not in sys.modules"
    )
    subprocess.run([sys.executable, "-c", code, str(path)], check=True)


def test_reading_alone_upgrades_what_it_must_and_creates_nothing(old: Path, tmp_path: Path) -> None:
    reader = Reader(open_to_read(str(old)))
    assert len(reader.sessions()) == 2
    with pytest.raises(LogbookError, match="no such logbook"):
        open_to_read(str(tmp_path / "none.sqlite"))
    assert not (tmp_path / "none.sqlite").exists()


def test_reading_alone_can_not_write(path: Path) -> None:
    open_engine(str(path)).dispose()
    engine = open_to_read(str(path))
    with pytest.raises(Exception, match="readonly"), engine.begin() as connection:
        connection.exec_driver_sql("DELETE FROM session")
