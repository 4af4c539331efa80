"""Boxes, a real Mosquitto, and a board that gathers: nothing lost, nothing doubled."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from sqlalchemy import select

from club.board_host import BoardHost
from club.box import Box, until
from club.machines import broker_in
from firmware_py.logbook.incarnation import incarnation_of
from firmware_py.logbook.tables import ENTRY, VIOLATION
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
            box.plant.hand("mill-switch.hasp", made)
            before = len(own_entries(box))
            until(lambda before=before: len(own_entries(box)) > before)


def test_a_box_publishes_and_a_board_gathers(box: Box, board: BoardHost) -> None:
    until(lambda: board.states().get("west") == "guarding")
    work(box)
    until(lambda: board.entries("west") == own_entries(box))
    assert len(own_entries(box)) > 6
    until(lambda: board.violations("west") == own_violations(box))
