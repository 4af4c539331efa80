"""Hands at outputs as the logbook keeps them: those that are on now, and no others."""

from __future__ import annotations

from collections.abc import Callable

from sqlalchemy import Engine

from firmware_py.logbook.reading import Reader
from firmware_py.logbook.records import ByHandRecord
from firmware_py.logbook.requests import Inbox, leave_by_hand
from firmware_py.logbook.writing import Keeper

RED, BOLT = "mill-switch.red", "mill-switch.bolt"


def on(keeper: Keeper, output: str, shows: str, until_t_us: int = 90) -> None:
    keeper.by_hand(
        output, shows, whence="10.0.0.7", since_t_us=30, until_t_us=until_t_us, until_wall_us=900
    )


def test_the_last_word_on_an_output_counts_however_many_come_at_once(
    keeper: Keeper, session: int, engine: Engine
) -> None:
    with keeper.together():
        on(keeper, RED, "steady")
        on(keeper, BOLT, "drawn")
        on(keeper, RED, "off", until_t_us=150)
        keeper.hand_off(BOLT)
    assert keeper.flush()
    assert Reader(engine).by_hand() == [ByHandRecord(RED, "off", "10.0.0.7", 30, 150, 900)]
    with keeper.together():
        keeper.hand_off(RED)
        on(keeper, BOLT, "shut")
        on(keeper, BOLT, "drawn")
    assert keeper.flush()
    assert [(one.output, one.shows) for one in Reader(engine).by_hand()] == [(BOLT, "drawn")]


def test_no_hand_outlasts_its_session_nor_a_restart(
    keeper: Keeper, session: int, engine: Engine, begin: Callable[[Keeper], int]
) -> None:
    on(keeper, RED, "steady")
    assert keeper.flush()
    keeper.resume_session(session)
    assert keeper.flush()
    assert Reader(engine).by_hand() == []
    on(keeper, RED, "steady")
    begin(keeper)
    assert Reader(engine).by_hand() == []


def test_a_new_file_in_the_place_of_a_damaged_one_knows_the_hands_that_are_on(
    keeper: Keeper, session: int, engine: Engine
) -> None:
    on(keeper, RED, "steady")
    on(keeper, BOLT, "drawn")
    keeper.hand_off(BOLT)
    assert keeper.flush()
    keeper.mend("a page of it is not what it was")
    keeper.remark("after that")
    assert keeper.flush()
    assert [one.output for one in Reader(engine).by_hand()] == [RED]


def test_a_request_says_which_output_what_and_whose_hand(engine: Engine) -> None:
    inbox = Inbox(engine)
    number = leave_by_hand(engine, "mill-switch.r\x00ed", "steady", "10.0.0.7\ud800", 5)
    [left] = inbox.new()
    inbox.close()
    assert (left.id, left.kind, left.wall_us, left.command) == (number, "by-hand", 5, "steady")
    assert (left.output, left.note) == ("mill-switch.r\ufffded", "10.0.0.7\ufffd")
    assert (left.contact, left.made, left.spur) == (None, None, None)
