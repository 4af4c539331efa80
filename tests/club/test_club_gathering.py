"""Boxes, a real Mosquitto, and a board that gathers: nothing lost, nothing doubled."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import pytest
from sqlalchemy import select

from club.board_host import BoardHost
from club.box import Box, until
from club.machines import broker_in
from club.truth import errands
from firmware_py.gathering.names import number_on_board
from firmware_py.logbook.incarnation import incarnation_of
from firmware_py.logbook.opening import open_engine
from firmware_py.logbook.reading import Reader
from firmware_py.logbook.requests import leave_order
from firmware_py.logbook.restoring import restore
from firmware_py.logbook.tables import ENTRY, VIOLATION
from firmware_py.logbook.writing import wall_now_us
from firmware_py.service.trial.mosquitto import Mosquitto


@pytest.fixture
def broker(own: Path) -> Iterator[Mosquitto]:
    made = broker_in(own / "broker")
    made.start()
    yield made
    made.stop()


@pytest.fixture
def box(own: Path, broker: Mosquitto) -> Iterator[Box]:
    made = Box(own, "west", broker)
    made.start()
    yield made
    made.close()


@pytest.fixture
def board(own: Path, broker: Mosquitto) -> Iterator[BoardHost]:
    made = BoardHost(str(own / "board.sqlite"), broker)
    made.start()
    yield made
    made.close()


def own_entries(box: Box) -> list[tuple[Any, ...]]:
    """All entries of a box's own logbook, as the board is to hold them."""
    incarnation = incarnation_of(box.engine)
    c = ENTRY.c
    wanted = select(c.session_id, c.id, c.t_us, c.wall_us, c.line).order_by(c.id)
    with box.engine.connect() as connection:
        return [(incarnation, *row) for row in connection.execute(wanted)]


def own_violations(box: Box) -> list[tuple[Any, ...]]:
    columns = [column for column in VIOLATION.c if column.name != "session_id"]
    wanted = select(VIOLATION.c.session_id, *columns)
    ordered = wanted.order_by(VIOLATION.c.session_id, VIOLATION.c.number)
    with box.engine.connect() as connection:
        return [tuple(row) for row in connection.execute(ordered)]


def work(box: Box, times: int = 3) -> None:
    """A hand opens the padlock and shuts it again, which the core has something to say to."""
    for _ in range(times):
        for made in (False, True):
            before = len(own_entries(box))
            box.plant.hand("mill-switch.hasp", made)
            until(lambda before=before: len(own_entries(box)) > before)


def test_a_box_publishes_and_a_board_gathers(box: Box, board: BoardHost) -> None:
    until(lambda: board.states().get("west") == "guarding")
    work(box)
    until(lambda: board.entries("west") == own_entries(box))
    assert len(own_entries(box)) > 6
    until(lambda: board.violations("west") == own_violations(box))


def test_a_board_that_was_away_asks_for_what_it_lacks(box: Box, board: BoardHost) -> None:
    until(lambda: board.states().get("west") == "guarding")
    board.stop()
    work(box, 2)
    box.stop_courier()
    work(box, 2)
    box.start_courier()
    board.start()
    until(lambda: board.entries("west") == own_entries(box))
    until(lambda: board.violations("west") == own_violations(box))
    until(lambda: board.states().get("west") == "guarding")


def test_two_boards_at_once_have_the_same(own: Path, box: Box, board: BoardHost) -> None:
    second = BoardHost(str(own / "second.sqlite"), box.broker, "board-2")
    second.start()
    try:
        work(box)
        for one in (board, second):
            until(lambda one=one: one.entries("west") == own_entries(box))
            until(lambda one=one: one.states().get("west") == "guarding")
    finally:
        second.close()


def test_a_new_pi_with_the_old_ones_name_is_another_incarnation(
    own: Path, box: Box, board: BoardHost, broker: Mosquitto
) -> None:
    work(box)
    until(lambda: board.entries("west") == own_entries(box))
    first = board.entries("west")
    box.close()
    (own / "new").mkdir()
    new = Box(own / "new", "west", broker)
    new.start()
    try:
        work(new)
        until(lambda: board.entries("west") == [*first, *own_entries(new)])
        until(lambda: board.states().get("west") == "guarding")
        assert len({row[0] for row in board.entries("west")}) == 2
    finally:
        new.close()


def test_a_boxs_logbook_that_was_put_back_is_gathered_from_its_beginning(
    own: Path, box: Box, board: BoardHost
) -> None:
    """Its ids come a second time: they must not be taken for those that the board has."""
    work(box, 1)
    until(lambda: board.entries("west") == own_entries(box))
    first = board.entries("west")
    box.stop_courier()
    box.stop_engine()
    box.engine.dispose()
    backup = own / "backup.sqlite"
    open_engine(str(backup)).dispose()
    restore(Path(box.logbook), backup, datetime.now(UTC))
    box.start()
    work(box, 1)
    until(lambda: board.entries("west") == [*first, *own_entries(box)])


def test_the_hosts_word_reaches_a_box_once_and_its_answer_comes_back(
    box: Box, board: BoardHost
) -> None:
    until(lambda: board.states().get("west") == "guarding")
    box.plant.hand("mill-switch.normal", False)  # While its hasp is locked.
    until(lambda: board.violations("west"))
    number = number_on_board(1, board.violations("west")[0][1])
    answered: list[bool | None] = []

    def acknowledge() -> bool:
        left = leave_order(
            board.engine, "acknowledge", violation=number, note="seen", wall_us=wall_now_us()
        )
        reader = Reader(board.engine)
        until(lambda: reader.request(left).answered_wall_us is not None)
        answered.append(reader.request(left).accepted)
        return bool(answered[-1])

    until(acknowledge)  # A busy machine may not be heard for a moment: then it is refused.
    until(lambda: board.violations("west") == own_violations(box))
    assert board.violations("west")[0][-1] == "seen"
    assert [row[-1] for row in errands(box.engine)].count(1) == 1
    left = leave_order(board.engine, "release", spur="west--no-such-spur", wall_us=wall_now_us())
    reader = Reader(board.engine)
    until(lambda: reader.request(left).answered_wall_us is not None)
    assert reader.request(left).accepted is False
    nobody = leave_order(board.engine, "release", spur="south--mill", wall_us=wall_now_us())
    until(lambda: reader.request(nobody).answered_wall_us is not None)
    assert "no box" in str(reader.request(nobody).why)
    reader.close()
