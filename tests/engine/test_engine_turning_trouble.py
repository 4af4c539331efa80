"""Sessions that are opened and closed where the engine or its logbook meets trouble."""

from __future__ import annotations

import sqlite3
from contextlib import closing
from pathlib import Path

import pytest
from engine_plant import GENEROUS_S, plant_of, replays, running, until
from engine_turns import LAYOUT, closed, entries, newest, opened, settled, turn
from sqlalchemy import Engine as Database

from firmware_py.engine import assembly
from firmware_py.engine.ports import Turn
from firmware_py.logbook.reading import Reader

pytestmark = pytest.mark.filterwarnings("error::pytest.PytestUnhandledThreadExceptionWarning")


@pytest.fixture
def layout_file(tmp_path: Path) -> Path:
    path = tmp_path / "basin.toml"
    path.write_text(LAYOUT, "utf-8")
    return path


# Coming back.


def test_a_stopped_engine_comes_back_to_what_it_was_in(layout_file: Path, reader: Reader) -> None:
    with running(plant_of(layout_file), ends=False):
        opened(reader)
        closed(reader)
    between = newest(reader)
    assert between.ended_t_us is None
    with running(plant_of(layout_file), ends=False):
        assert newest(reader).id == between.id
        assert turn(reader, "close").accepted is False
        opened(reader)
    work = newest(reader)
    with running(plant_of(layout_file)):
        assert newest(reader).id == work.id
        assert turn(reader, "open").accepted is False
        closed(reader)
    assert [s.opened for s in reader.sessions()] == [False, True, False, True, False]
    for session in reader.sessions():
        replays(reader, session)


def test_a_session_cut_off_in_its_first_moment_is_followed_by_one_of_its_kind(
    layout_file: Path, database: Database, reader: Reader
) -> None:
    """Its row was committed, and not yet how the contacts stood: nobody can go on with that."""
    with running(plant_of(layout_file), ends=False):
        opened(reader)
        cut_off = newest(reader)
    with database.begin() as connection:
        connection.exec_driver_sql("DELETE FROM tape WHERE session_id = ?", (cut_off.id,))
    plant = plant_of(layout_file)
    plant.hand("mill-switch.hasp", False)
    with running(plant):
        session = newest(reader)
        assert session.id != cut_off.id
        assert session.opened
        assert session.outset["stages"] == {"mill-switch": "unlocked"}
        assert turn(reader, "open").accepted is False
    assert not any("found" in remark.text for remark in reader.remarks(session.id))


# Trouble.


@pytest.fixture(autouse=True)
def patient(monkeypatch: pytest.MonkeyPatch) -> None:
    """A machine that is busy with other tests is no slow card."""
    monkeypatch.setattr(assembly, "NEXT_WITHIN_S", GENEROUS_S)
    monkeypatch.setattr(assembly, "CAUGHT_UP_WITHIN_S", GENEROUS_S / 2)


def test_a_turn_is_refused_while_the_logbook_cannot_be_written_and_lamps_go_on(
    layout_file: Path, reader: Reader, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Someone else holds the database's write lock, as a backup program might."""
    monkeypatch.setattr(assembly, "NEXT_WITHIN_S", 0.2)
    monkeypatch.setattr(assembly, "CAUGHT_UP_WITHIN_S", 0.2)
    plant = plant_of(layout_file)
    with running(plant):
        before = newest(reader)
        other = sqlite3.connect(layout_file.with_name("logbook.sqlite"), isolation_level=None)
        with closing(other):
            other.execute("BEGIN IMMEDIATE")
            plant.engine.put(Turn(opened=True))
            plant.hand("mill-switch.hasp", False)
            settled(plant, "mill-switch.hasp", False)
            core = plant.engine.core
            assert core is not None
            assert core.stages()["mill-switch"] == "unlocked"
            other.execute("ROLLBACK")
        until(lambda: entries(reader, before.id, "stage"))
        assert [session.id for session in reader.sessions()] == [before.id], "none that is empty"
        monkeypatch.setattr(assembly, "NEXT_WITHIN_S", GENEROUS_S)
        monkeypatch.setattr(assembly, "CAUGHT_UP_WITHIN_S", GENEROUS_S / 2)
        opened(reader)
        assert newest(reader).outset["stages"] == {"mill-switch": "unlocked"}
    for session in reader.sessions():
        replays(reader, session)


def test_a_turn_is_refused_at_once_where_writing_is_known_to_fail(
    layout_file: Path, reader: Reader, monkeypatch: pytest.MonkeyPatch
) -> None:
    plant = plant_of(layout_file)
    health = plant._keeper.health()
    with running(plant):
        before = newest(reader)
        ill = type(health)(queued=9, last_error="the disk is full", drops=0, set_aside=0)
        monkeypatch.setattr(plant._keeper, "health", lambda: ill)
        answer = turn(reader, "open")
        assert answer.why == "the logbook can't be written: the disk is full"
        assert newest(reader).id == before.id
        monkeypatch.setattr(plant._keeper, "health", lambda: health)
        opened(reader)
