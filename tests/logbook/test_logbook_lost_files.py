"""The real thing each time: a file that is deleted, replaced or damaged while it is written."""

from __future__ import annotations

import os
import sqlite3
import time
from collections.abc import Callable, Iterator
from contextlib import closing
from pathlib import Path

import pytest
from sqlalchemy import Engine

from firmware_py.core.entries import FaultEntry, OutputEntry, PhaseEntry, StageEntry, Violation
from firmware_py.core.names import Fault, Phase, Rule, Shows, Stage
from firmware_py.logbook.damage import damage_of, open_or_begin_anew
from firmware_py.logbook.errors import LogbookError
from firmware_py.logbook.opening import open_engine
from firmware_py.logbook.reading import Reader
from firmware_py.logbook.requests import Inbox, leave_order
from firmware_py.logbook.resuming import unended
from firmware_py.logbook.writing import Keeper

Begin = Callable[[Keeper], int]
TOML = '[layout]\nname = "Slate Basin"\n'


@pytest.fixture
def screen(path: Path, engine: Engine) -> Iterator[Reader]:
    """A reader with an engine of its own, as the screen's process has it."""
    reader = Reader(open_engine(str(path), busy_ms=20))
    yield reader
    reader.close()


def filled(keeper: Keeper) -> None:
    """Log entries 1 to 8 of the session."""
    keeper.entry(StageEntry(1, "mill-switch", Stage.UNLOCKED), 1)
    keeper.entry(StageEntry(2, "mill-switch", Stage.LINED), 2)
    keeper.entry(PhaseEntry(2, "mill", Phase.WORKING, None), 2)
    keeper.entry(OutputEntry(2, "mill-switch", "red", Shows.STEADY), 2)
    keeper.entry(FaultEntry(3, Fault.LOST, "mill.detector", False), 3)
    keeper.entry(FaultEntry(3, Fault.LOST, "mill-flag.rack", False), 3)
    keeper.entry(FaultEntry(4, Fault.LOST, "mill.detector", True), 4)
    keeper.entry(Violation(5, 1, Rule.GATE_FORCED, "mill-gate", "mill", ("key",)), 5)
    keeper.repeat(1, 3, 6)
    keeper.acknowledged(1, 7, "seen")
    assert keeper.flush()


def removed(path: Path) -> None:
    for ending in ("", "-wal", "-shm"):
        Path(f"{path}{ending}").unlink(missing_ok=True)


def overwritten(path: Path) -> None:
    """Overwrite all but the first page, as a dying card may, in the very same file."""
    with closing(sqlite3.connect(path)) as connection:
        connection.execute("PRAGMA wal_checkpoint(TRUNCATE)")
    with path.open("r+b") as stream:
        stream.seek(4096)
        stream.write(os.urandom(path.stat().st_size - 4096))


def test_a_deleted_file_is_written_again_whole(
    path: Path, keeper: Keeper, session: int, screen: Reader
) -> None:
    filled(keeper)
    before = screen.entries(session), screen.violations(session), screen.session()
    version = screen.version()
    removed(path)
    keeper.entry(StageEntry(9, "mill-switch", Stage.RESTORED), 9)
    assert keeper.flush()
    assert keeper.flush()
    assert screen.version() != version
    assert (screen.entries(session)[:-1], screen.violations(session), screen.session()) == before
    assert screen.entries(session)[-1].line["stage"] == "restored"
    assert "nothing is lost" in screen.remarks(session)[0].text
    assert damage_of(path) is None


@pytest.mark.parametrize("endings", [("",), ("-wal",), ("-shm",), ("", "-wal"), ("-wal", "-shm")])
def test_whatever_of_it_is_deleted_nothing_is_lost(
    path: Path, keeper: Keeper, session: int, endings: tuple[str, ...]
) -> None:
    """Judged by a copy of what has a name then, as a power cut would leave it."""
    filled(keeper)
    for ending in endings:
        Path(f"{path}{ending}").unlink()
    keeper.entry(StageEntry(9, "mill-switch", Stage.RESTORED), 9)
    keeper.flush()
    copy = path.with_name("copy.sqlite")
    for ending in ("", "-wal"):
        Path(f"{copy}{ending}").write_bytes(Path(f"{path}{ending}").read_bytes())
    assert damage_of(copy) is None
    assert len(Reader(open_engine(str(copy))).entries(session)) == 9
    assert not list(path.parent.glob("*stranger*"))


def test_a_deleted_file_before_the_first_commit(
    path: Path, keeper: Keeper, begin: Begin, screen: Reader
) -> None:
    removed(path)
    session = begin(keeper)
    keeper.flush()
    found = screen.session()
    assert found is not None
    assert found.id == session


def test_the_screen_says_so_while_the_file_is_gone_and_makes_none(
    path: Path, screen: Reader, session: int
) -> None:
    assert screen.session()
    removed(path)
    with pytest.raises(LogbookError, match="moved or deleted; the engine makes it anew"):
        screen.session()
    with pytest.raises(LogbookError, match="moved or deleted"):
        screen.version()
    assert not path.exists()


def test_a_stranger_in_its_place_is_set_aside(
    path: Path, keeper: Keeper, session: int, screen: Reader
) -> None:
    filled(keeper)
    other = path.with_name("other.sqlite")
    with closing(sqlite3.connect(other)) as stranger:
        stranger.execute("CREATE TABLE cookies (id)")
    other.replace(path)
    keeper.pulse("guarding")
    assert keeper.flush()
    [aside] = path.parent.glob("logbook-stranger-*.sqlite")
    with closing(sqlite3.connect(aside)) as stranger:
        assert stranger.execute("SELECT name FROM sqlite_master").fetchall() == [("cookies",)]
    assert len(screen.entries(session)) == 8


def test_requests_are_found_in_the_new_file(
    path: Path, engine: Engine, keeper: Keeper, session: int
) -> None:
    inbox = Inbox(engine)
    assert inbox.new() == []
    removed(path)
    keeper.pulse("guarding")
    assert keeper.flush()
    asked = leave_order(engine, "ask", spur="mill", wall_us=1)
    assert [request.id for request in inbox.new()] == [asked]
    keeper.answer(asked, True)
    assert keeper.flush()
    assert Reader(engine).request(asked).accepted


def test_a_file_damaged_while_it_runs_is_set_aside_and_the_session_goes_on(
    path: Path, keeper: Keeper, session: int, screen: Reader
) -> None:
    filled(keeper)
    last = screen.entries(session)[-1].id
    violations = screen.violations(session)
    overwritten(path)
    damaged = path.read_bytes()
    keeper.entry(StageEntry(9, "mill-switch", Stage.RESTORED), 9)
    assert keeper.flush()
    assert keeper.flush()
    [aside] = path.parent.glob("logbook-damaged-*.sqlite")
    assert aside.read_bytes() == damaged
    found = screen.session()
    assert found is not None
    assert found.id == session
    assert found.outset["stages"] == {"mill-switch": "lined"}
    assert found.outset["phases"] == {"mill": ["working", None]}
    assert found.outset["outputs"] == {"mill-switch": {"red": "steady"}}
    assert found.outset["faults"] == [["lost", "mill-flag.rack"]]
    assert found.tape_gap
    assert screen.violations(session) == violations
    [entry] = screen.entries(session, after_id=last)
    assert (entry.t_us, entry.id) == (9, last + 1)
    assert any(aside.name in remark.text for remark in screen.remarks(session))
    assert keeper.health().last_error is None


def test_damage_that_someone_else_found(
    path: Path, keeper: Keeper, session: int, screen: Reader
) -> None:
    filled(keeper)
    overwritten(path)
    found = damage_of(path)
    assert found
    keeper.mend(found)
    assert keeper.flush()
    assert damage_of(path) is None
    assert len(screen.violations(session)) == 1


def test_a_resumed_session_is_remembered_too(
    path: Path, engine: Engine, keeper: Keeper, session: int, screen: Reader
) -> None:
    filled(keeper)
    keeper.close()
    later = Keeper(engine)
    later.resume_session(session)
    later.entry(StageEntry(9, "mill-switch", Stage.RESTORED), 9)
    assert later.flush()
    assert unended(engine, TOML) == session
    later.mend("a test says so")
    later.entry(StageEntry(10, "mill-switch", Stage.SECURED), 10)
    assert later.flush()
    found = screen.session()
    assert found is not None
    assert (found.id, found.began_wall_us) == (session, 1_000_000)
    assert found.outset["stages"] == {"mill-switch": "restored"}
    assert found.outset["faults"] == [["lost", "mill-flag.rack"]]
    assert screen.violations(session)[0].times == 3
    assert [entry.t_us for entry in screen.entries(session)] == [10]
    assert unended(engine, TOML) is None, "a tape with a gap can't bring the core back"
    later.close()


def test_a_session_that_is_not_there_can_not_be_resumed(engine: Engine) -> None:
    keeper = Keeper(engine)
    keeper.resume_session(77)
    deadline = time.monotonic() + 20
    while not Reader(engine).remarks() and time.monotonic() < deadline:
        assert keeper.flush()  # The remark on it is told only once it was tried.
    assert keeper.health().queued == 0
    [remark] = Reader(engine).remarks()
    assert "no session 77" in remark.text
    keeper.close()


def test_a_damaged_file_is_set_aside_on_opening(
    path: Path, engine: Engine, keeper: Keeper, session: int
) -> None:
    filled(keeper)
    keeper.close()
    engine.dispose()
    overwritten(path)
    damaged = path.read_bytes()
    opened, said = open_or_begin_anew(str(path))
    assert Reader(opened).session() is None
    [aside] = path.parent.glob("logbook-damaged-*.sqlite")
    assert aside.read_bytes() == damaged
    assert said is not None
    assert aside.name in said
    opened.dispose()
    again, said = open_or_begin_anew(str(path))
    assert said is None
    again.dispose()


def test_a_damaged_first_page(path: Path) -> None:
    path.write_bytes(os.urandom(20_000))
    Path(f"{path}-wal").write_bytes(os.urandom(5_000))
    opened, said = open_or_begin_anew(str(path))
    assert said is not None
    [aside] = path.parent.glob("logbook-damaged-*.sqlite")
    assert Path(f"{aside}-wal").exists()
    opened.dispose()


def test_a_file_of_zeros_is_damaged(path: Path) -> None:
    path.write_bytes(bytes(20_000))
    assert damage_of(path)


def test_a_text_is_no_damaged_logbook(path: Path) -> None:
    """Someone has named his layout file; it stays where it is."""
    path.write_text('name = "Gleis für die Mühle"\n' * 500)
    with pytest.raises(LogbookError, match="not an SQLite database"):
        open_or_begin_anew(str(path))
    assert path.read_text().startswith("name")


def test_two_damaged_files_in_one_second_are_both_kept(path: Path) -> None:
    for _ in range(2):
        path.write_bytes(os.urandom(20_000))
        open_or_begin_anew(str(path))[0].dispose()
        removed(path)
    assert len(list(path.parent.glob("logbook-damaged-*.sqlite"))) == 2


def test_an_intact_file_is_opened_as_it_is(path: Path) -> None:
    open_engine(str(path)).dispose()
    before = path.read_bytes()
    assert damage_of(path) is None
    assert path.read_bytes() == before
    assert damage_of(path.with_name("none.sqlite")) is None
