"""A session is closed and the next begins, with real threads, SQLite and simulated pins.

Nothing here asserts how long anything takes; waiting ends when what is waited for is there, or
after a minute in which it never came.
"""

from __future__ import annotations

import json
import sqlite3
import threading
import time
from collections.abc import Callable, Iterator
from contextlib import closing, contextmanager
from io import BytesIO
from pathlib import Path

import pytest
from sqlalchemy import Engine as Database

from firmware_py.core.names import Command
from firmware_py.core.orders import Order
from firmware_py.engine import assembly
from firmware_py.engine.assembly import Plant, Settings
from firmware_py.engine.ports import Given, Turn
from firmware_py.layout.reading import parse_layout
from firmware_py.logbook.opening import logbook_url, open_engine
from firmware_py.logbook.reading import Reader
from firmware_py.logbook.records import EntryRecord, RequestRecord, SessionRecord
from firmware_py.logbook.requests import leave_order, leave_session
from firmware_py.logbook.tapes import tape_lines
from firmware_py.tape.lines import line_of
from firmware_py.tape.reading import TapeReader
from firmware_py.tape.replay import replay

pytestmark = pytest.mark.filterwarnings("error::pytest.PytestUnhandledThreadExceptionWarning")

GENEROUS_S = 60.0
LAYOUT = """
[layout]
name = "Slate Basin"
scale = "HO"

[times]
settle = 0.004
clear_after = 0.6
throw = 0.05

[[switch]]
id = "mill-switch"
lock = "padlock"
contacts = { hasp = 5, normal = 6, reverse = 13, detector = 19 }
lamps = { green = 20, red = 21, white = 16 }

[[spur]]
id = "mill"
switch = "mill-switch"
foreman = "auto"
foreman_seconds = [0.3, 0.3]
contacts = { detector = 26 }

[[flag]]
id = "mill-flag"
spur = "mill"
contacts = { rack = 24 }
"""


def until(what: Callable[[], object]) -> None:
    """Wait until something is so."""
    end_s = time.monotonic() + GENEROUS_S
    while not what():
        assert time.monotonic() < end_s, "it never came to pass"
        time.sleep(0.02)


def wall_us() -> int:
    return time.time_ns() // 1_000


@pytest.fixture
def layout_file(tmp_path: Path) -> Path:
    path = tmp_path / "basin.toml"
    path.write_text(LAYOUT, "utf-8")
    return path


@pytest.fixture
def database(tmp_path: Path) -> Iterator[Database]:
    database = open_engine(logbook_url(str(tmp_path / "logbook.sqlite")))
    yield database
    database.dispose()


@pytest.fixture
def reader(database: Database) -> Iterator[Reader]:
    reader = Reader(database)
    yield reader
    reader.close()


def plant_of(layout_file: Path) -> Plant:
    logbook = str(layout_file.with_name("logbook.sqlite"))
    return Plant(Settings(layout_file, logbook, simulated=True, seed=11))


@contextmanager
def running(plant: Plant, *, ends: bool = True) -> Iterator[Plant]:
    """A plant in a thread of its own; at the end its session ends too, or waits."""
    thread = threading.Thread(target=plant.run, name="engine", daemon=True)
    thread.start()
    try:
        assert plant.began.wait(GENEROUS_S)
        yield plant
    finally:
        (plant.end_session if ends else plant.stop)()
        thread.join(GENEROUS_S)
    assert not thread.is_alive()


def turn(reader: Reader, command: str) -> RequestRecord:
    """Ask for a session to be opened or closed, and give the answer."""
    left = leave_session(reader.engine, command, wall_us())
    until(lambda: reader.request(left).answered_wall_us)
    return reader.request(left)


def opened(reader: Reader) -> None:
    assert turn(reader, "open").accepted


def closed(reader: Reader) -> None:
    assert turn(reader, "close").accepted


def newest(reader: Reader) -> SessionRecord:
    session = reader.session()
    assert session is not None
    return session


def entries(reader: Reader, session: int, *kinds: str) -> list[EntryRecord]:
    return reader.entries(session, limit=100_000, kinds=kinds or None)


def settled(plant: Plant, contact: str, made: bool | None) -> None:
    def is_so() -> bool:
        core = plant.engine.core
        return core is not None and core.settled()[contact] is made

    until(is_so)


def replays(reader: Reader, session: SessionRecord) -> None:
    """Rulebook section 10: its saved tape gives exactly the entries that it logged."""
    tape = [json.dumps(line) for line in tape_lines(reader.engine, session.id)]
    layout = parse_layout(session.layout_toml, "the session's layout")
    lines = TapeReader(layout, BytesIO("\n".join(tape).encode()), "the session's tape")
    replayed = [line_of(entry) for entry in replay(layout, lines)]
    assert replayed == [entry.line for entry in entries(reader, session.id)]


# Opening and closing.


def test_what_goes_on_between_sessions_is_a_session_of_its_own(
    layout_file: Path, reader: Reader
) -> None:
    with running(plant_of(layout_file)):
        assert not newest(reader).opened
        opened(reader)
        assert newest(reader).opened
        closed(reader)
        until(lambda: not newest(reader).opened)
    sessions = list(reversed(reader.sessions()))
    assert [session.opened for session in sessions] == [False, True, False]
    assert all(session.ended_t_us is not None for session in sessions)
    said = [[remark.text for remark in reader.remarks(one.id)] for one in sessions]
    assert "The session began." in said[1]
    assert "Between sessions; the contacts are guarded." in said[0]
    assert "Between sessions; the contacts are guarded." in said[2]


def test_each_is_refused_where_it_is_so_already(layout_file: Path, reader: Reader) -> None:
    with running(plant_of(layout_file)):
        refused = turn(reader, "close")
        assert (refused.accepted, refused.why) == (False, "no session is open")
        opened(reader)
        again = turn(reader, "open")
        assert (again.accepted, again.why) == (False, "a session is open already")
        assert len(reader.sessions()) == 2
        odd = turn(reader, "pause")
        assert odd.accepted is False


def test_violations_and_phases_begin_anew_and_contacts_keep_their_state(
    layout_file: Path, reader: Reader
) -> None:
    plant = plant_of(layout_file)
    with running(plant):
        opened(reader)
        first = newest(reader)
        plant.hand("mill-switch.hasp", False)
        plant.hand("mill-switch.normal", False)
        plant.hand("mill-switch.reverse", True)
        settled(plant, "mill-switch.reverse", True)
        plant.hand("mill-switch.hasp", True)
        until(lambda: [v.rule for v in reader.violations(first.id)][:1] == ["locked-off-normal"])
        edges = reader.standing()["mill-switch.hasp"].edges
        closed(reader)
        second = newest(reader)
        assert second.outset["stages"] == {"mill-switch": "irregular"}
        assert second.outset["phases"] == {"mill": ["idle", None]}
        assert second.outset["foremen"] == {"mill": "not-asked"}
        assert second.outset["faults"] == []
        assert second.outset["outputs"]["mill-switch"]["red"] == "steady", "not a violation's flash"
        standing = reader.standing()
        assert standing["mill-switch.reverse"].settled is True
        assert standing["mill-switch.hasp"].edges == edges
        plant.hand("mill-switch.reverse", False)
        until(lambda: reader.violations(second.id))
    [moved] = reader.violations(second.id)
    assert (moved.number, moved.rule) == (1, "moved-while-locked")
    assert len(reader.violations(first.id)) == 2  # The flag was up as the hasp came open.
    for session in reader.sessions():
        replays(reader, session)


def test_a_contact_that_has_not_settled_at_the_turn_settles_in_the_new_session(
    layout_file: Path, reader: Reader
) -> None:
    """A detector is believed clear only after a while, here a turn of sessions lies in it."""
    plant = plant_of(layout_file)
    with running(plant):
        plant.hand("mill.detector", True)
        settled(plant, "mill.detector", True)
        before = newest(reader).id
        plant.hand("mill.detector", False)
        opened(reader)
        session = newest(reader)
        assert session.id != before
        settled(plant, "mill.detector", False)
        until(lambda: reader.standing()["mill.detector"].settled is False)
        until(lambda: entries(reader, session.id, "fault"))
        assert reader.violations(session.id) == [], "nobody is blamed for what nobody saw"
    ended = [e.line["ended"] for e in entries(reader, session.id, "fault")]
    if session.outset["faults"]:  # Else it had time enough: the machine was busy.
        assert session.outset["faults"] == [["lost", "mill.detector"]]
        assert ended == [True]
    for one in reader.sessions():
        replays(reader, one)


def test_a_lost_contact_stays_unknown_over_the_turn(layout_file: Path, reader: Reader) -> None:
    plant = plant_of(layout_file)
    with running(plant):
        plant.hand("mill-switch.hasp", None)
        settled(plant, "mill-switch.hasp", None)
        opened(reader)
        session = newest(reader)
        assert session.outset["faults"] == [["lost", "mill-switch.hasp"]]
        assert reader.standing()["mill-switch.hasp"].settled is None
        assert session.outset["outputs"]["mill-switch"]["green"] == "off"


def test_tapes_replay_whenever_a_turn_comes(layout_file: Path, reader: Reader) -> None:
    """Hands never rest while sessions are turned: each session's tape gives its own entries."""
    plant = plant_of(layout_file)
    stop = threading.Event()

    def hands() -> None:
        contacts = ("mill-switch.hasp", "mill-flag.rack", "mill-switch.detector", "mill.detector")
        count = 0
        while not stop.wait(0.003):
            count += 1
            plant.hand(contacts[count % 4], count % 3 == 0)

    with running(plant):
        mover = threading.Thread(target=hands)
        mover.start()
        for _ in range(4):
            opened(reader)
            leave_order(reader.engine, "ask", spur="mill", wall_us=wall_us())
            closed(reader)
        stop.set()
        mover.join()
    assert len(reader.sessions()) == 9
    for session in reader.sessions():
        replays(reader, session)


# The automatic foreman.


def test_an_answer_that_is_due_does_not_come_in_the_next_session(
    layout_file: Path, reader: Reader
) -> None:
    plant = plant_of(layout_file)
    with running(plant):
        opened(reader)
        first = newest(reader)
        leave_order(reader.engine, "ask", spur="mill", wall_us=wall_us())
        until(lambda: entries(reader, first.id, "foreman"))
        closed(reader)
        second = newest(reader)
        opened(reader)
        third = newest(reader)
        leave_order(reader.engine, "ask", spur="mill", wall_us=wall_us())
        until(lambda: len(entries(reader, third.id, "foreman")) == 2)
        asked, released = entries(reader, third.id, "foreman")
        assert (asked.line["is"], released.line["is"]) == ("asked", "released")
        assert released.t_us - asked.t_us >= 299_000, "its own answer, not an earlier one's"
        assert not entries(reader, second.id, "foreman", "refused")
        assert not entries(reader, third.id, "refused")


def test_an_answer_in_the_queue_behind_the_turn_is_dropped(
    layout_file: Path, reader: Reader
) -> None:
    plant = plant_of(layout_file)
    given: list[Given] = []
    plant._foreman._give = given.append  # The answer is held where the queue would be.
    with running(plant):
        opened(reader)
        leave_order(reader.engine, "ask", spur="mill", wall_us=wall_us())
        until(lambda: given)
        closed(reader)
        second = newest(reader)
        plant.give(given[0])
        leave_order(reader.engine, "hold", spur="mill", wall_us=wall_us())
        until(lambda: entries(reader, second.id, "refused"))
        refused = [entry.line["command"] for entry in entries(reader, second.id, "refused")]
    assert refused == ["hold"]
    assert given[0].order == Order(Command.RELEASE, "mill")


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
