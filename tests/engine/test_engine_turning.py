"""A session is closed and the next begins, with real threads, SQLite and simulated pins.

Nothing here asserts how long anything takes; waiting ends when what is waited for is there, or
after a minute in which it never came.
"""

from __future__ import annotations

import threading
from dataclasses import replace
from pathlib import Path

import pytest
from engine_plant import plant_of, replays, running, until
from engine_turns import LAYOUT, closed, entries, newest, opened, settled, turn, wall_us

from firmware_py.core.names import Command
from firmware_py.core.orders import Order
from firmware_py.engine.ports import Given
from firmware_py.logbook.reading import Reader
from firmware_py.logbook.requests import leave_order

pytestmark = pytest.mark.filterwarnings("error::pytest.PytestUnhandledThreadExceptionWarning")


@pytest.fixture
def layout_file(tmp_path: Path) -> Path:
    path = tmp_path / "basin.toml"
    path.write_text(LAYOUT, "utf-8")
    return path


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
    moved = reader.violations(second.id)[-1]  # Points that stay between may have raised another.
    assert (moved.number, moved.rule) == (1, "moved-while-locked")
    rules = {violation.rule for violation in reader.violations(first.id)}
    assert rules >= {"out-of-order", "locked-off-normal"}  # The flag was up at the unlocking.
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


def test_an_order_that_a_turn_has_overtaken_is_refused(layout_file: Path, reader: Reader) -> None:
    """It was asked of the session that the page showed, and that is over."""
    plant = plant_of(layout_file)
    with running(plant):
        left = leave_order(reader.engine, "ask", spur="mill", wall_us=wall_us() - 2_000_000)
        opened(reader)
        until(lambda: reader.request(left).answered_wall_us)
        late = leave_order(reader.engine, "ask", spur="mill", wall_us=wall_us() - 2_000_000)
        until(lambda: reader.request(late).answered_wall_us)
        assert reader.request(late).accepted is False
        assert "opened or closed meanwhile" in (reader.request(late).why or "")
        fresh = leave_order(reader.engine, "ask", spur="mill", wall_us=wall_us())
        until(lambda: reader.request(fresh).answered_wall_us)
        assert reader.request(fresh).accepted is True


def test_a_clock_set_back_after_a_turn_refuses_nothing(layout_file: Path, reader: Reader) -> None:
    plant = plant_of(layout_file)
    with running(plant):
        opened(reader)
        hour_us = 3_600_000_000
        given = Given(Order(Command.ASK, "mill"), request=None, left_us=wall_us() - hour_us)
        numbered = leave_order(reader.engine, "hold", spur="mill", wall_us=wall_us())
        until(lambda: reader.request(numbered).answered_wall_us)
        plant.engine.put(replace(given, request=numbered))
        until(lambda: entries(reader, newest(reader).id, "foreman"))


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
