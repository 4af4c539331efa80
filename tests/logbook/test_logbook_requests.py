"""Requests: left by the screen, found and answered by the engine."""

from __future__ import annotations

from collections.abc import Callable
from contextlib import AbstractContextManager

import pytest
from sqlalchemy import Engine, text

from firmware_py.logbook.errors import LogbookError
from firmware_py.logbook.reading import Reader
from firmware_py.logbook.requests import Inbox, leave_hand, leave_order, unanswered
from firmware_py.logbook.writing import Keeper


def test_an_order_and_its_answer(engine: Engine, keeper: Keeper, reader: Reader) -> None:
    number = leave_order(engine, "acknowledge", violation=3, note="sighted ☂", wall_us=44)
    [request] = unanswered(engine)
    assert (request.id, request.kind, request.command) == (number, "order", "acknowledge")
    assert (request.violation, request.note, request.wall_us) == (3, "sighted ☂", 44)
    assert (request.answered_wall_us, request.accepted, request.why) == (None, None, None)
    keeper.answer(number, False, "there is no violation 3")
    keeper.flush()
    answered = reader.request(number)
    assert (answered.accepted, answered.why) == (False, "there is no violation 3")
    assert answered.answered_wall_us == 1_000_000
    assert unanswered(engine) == []


@pytest.mark.parametrize("made", [True, False, None])
def test_a_hand(engine: Engine, reader: Reader, made: bool | None) -> None:
    request = reader.request(leave_hand(engine, "mill.detector", made, 5))
    assert (request.kind, request.contact, request.made) == ("hand", "mill.detector", made)


def test_all_fields_of_an_order(engine: Engine, reader: Reader) -> None:
    number = leave_order(engine, "start-brake-test", spur="mill", cars=3, wall_us=1)
    request = reader.request(number)
    assert (request.spur, request.cars, request.violation) == ("mill", 3, None)


def test_unanswered_after_an_id_and_on_a_connection(engine: Engine) -> None:
    first, second = (leave_order(engine, "ask", spur="mill", wall_us=t) for t in (1, 2))
    assert [r.id for r in unanswered(engine, first)] == [second]
    with engine.connect() as connection:
        assert [r.id for r in unanswered(connection)] == [first, second]


@pytest.mark.parametrize("number", [2**31, -(2**31), 10**30])
def test_numbers_beyond_any_database_are_refused(engine: Engine, number: int) -> None:
    with pytest.raises(LogbookError, match="give at most"):
        leave_order(engine, "start-brake-test", spur="mill", cars=number, wall_us=1)
    with pytest.raises(LogbookError, match="violation is"):
        leave_order(engine, "acknowledge", violation=number, wall_us=1)


def test_text_with_half_a_sign_is_mended(engine: Engine, reader: Reader) -> None:
    number = leave_order(engine, "ask", spur="\udcff", note="\0", wall_us=1)
    assert (reader.request(number).spur, reader.request(number).note) == ("\ufffd", "\ufffd")


def test_a_locked_logbook_is_told(
    engine: Engine, locked: Callable[[], AbstractContextManager[None]]
) -> None:
    with locked(), pytest.raises(LogbookError, match="keeps it locked"):
        leave_order(engine, "ask", spur="mill", wall_us=1)


def test_the_inbox_hands_each_request_over_once(engine: Engine, keeper: Keeper) -> None:
    inbox = Inbox(engine)
    first = leave_order(engine, "ask", spur="mill", wall_us=1)
    assert [r.id for r in inbox.new()] == [first]
    assert inbox.new() == []
    second = leave_order(engine, "ask", spur="mill", wall_us=2)
    assert [r.id for r in inbox.new()] == [second]
    keeper.answer(first, True)
    keeper.answer(second, True)
    keeper.flush()
    assert inbox.new() == []
    inbox.close()


def test_the_inbox_skips_no_request_that_was_committed_late(engine: Engine) -> None:
    """On a server a lower id can be committed after a higher one."""
    inbox = Inbox(engine)
    insert = "INSERT INTO request (id, wall_us, kind) VALUES ({}, 1, 'order')"
    for number in (9, 4):
        with engine.begin() as connection:
            connection.execute(text(insert.format(number)))
        assert [r.id for r in inbox.new()] == [number]
    inbox.close()


def test_a_new_inbox_finds_what_was_left_before(engine: Engine) -> None:
    number = leave_order(engine, "ask", spur="mill", wall_us=1)
    for _ in range(2):
        inbox = Inbox(engine)
        assert [r.id for r in inbox.new()] == [number]
        inbox.close()


@pytest.mark.parametrize(
    "column", ["kind", "command", "spur", "note", "contact", "cars", "wall_us"]
)
def test_text_that_is_not_utf_8_keeps_no_other_request_back(engine: Engine, column: str) -> None:
    """SQLite keeps whatever bytes it is given as text; every column takes a text."""
    inbox = Inbox(engine)
    before = leave_order(engine, "ask", spur="mill", wall_us=1)
    given = {"wall_us": "1", "kind": "'order'"} | {column: "CAST(x'61ff' AS TEXT)"}
    insert = f"INSERT INTO request ({', '.join(given)}) VALUES ({', '.join(given.values())})"
    with engine.begin() as connection:
        connection.exec_driver_sql(insert)
    after = leave_order(engine, "ask", spur="mühle", wall_us=1)
    first, odd, last = inbox.new()
    assert (first.id, last.id, last.spur) == (before, after, "mühle")
    assert getattr(odd, column) == "a\ufffd"
    inbox.close()
    with engine.connect() as connection:
        raw = connection.connection.driver_connection
        assert raw is not None
        assert raw.text_factory is str, "others read as strictly as ever"
