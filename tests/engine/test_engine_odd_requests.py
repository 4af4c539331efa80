"""Rows in the table of requests that no page would leave: a whole engine goes on past each."""

from __future__ import annotations

import sqlite3
import time
from contextlib import closing
from pathlib import Path

from engine_plant import plant_of, running, until
from sqlalchemy import Engine as Database

from firmware_py.logbook.reading import Reader
from firmware_py.logbook.requests import leave_hand

TEXTS = ("kind", "command", "spur", "note", "contact")
COLUMNS = (*TEXTS, "violation", "cars", "made", "wall_us")
NOT_UTF_8 = "CAST(x'ff' AS TEXT)"
VALUES = (NOT_UTF_8, "CAST(x'eda080' AS TEXT)", "x'ff00'", "9e999")


def leave(logbook: Path, column: str, value: str) -> int:
    """Leave a sound order but for one column; its id."""
    given = {"wall_us": str(time.time_ns() // 1_000), "kind": "'order'", "command": "'ask'"}
    given |= {"spur": "'sawmill'", column: value}
    insert = f"INSERT INTO request ({', '.join(given)}) VALUES ({', '.join(given.values())})"
    with closing(sqlite3.connect(logbook, timeout=20.0)) as other, other:
        made = other.execute(insert).lastrowid
        assert made is not None
        return made


def answer(logbook: Path, number: int) -> tuple[object, ...]:
    """What was answered; the row itself no reader of text could read."""
    wanted = "SELECT answered_wall_us, accepted, why FROM request WHERE id = ?"
    with closing(sqlite3.connect(logbook, timeout=20.0)) as other:
        [found] = other.execute(wanted, [number]).fetchall()
    return tuple(found)


def test_every_odd_row_is_answered_and_none_keeps_others_waiting(
    layout_file: Path, database: Database, reader: Reader
) -> None:
    logbook = layout_file.with_name("logbook.sqlite")
    with running(plant_of(layout_file)):
        odd = {(c, v): leave(logbook, c, v) for c in COLUMNS for v in VALUES}
        hand = leave_hand(database, "foundry-switch.hasp", False, time.time_ns() // 1_000)
        until(lambda: reader.request(hand).accepted)
        until(lambda: all(answer(logbook, number)[0] for number in odd.values()))
    for column in ("kind", "command", "spur"):
        _, accepted, why = answer(logbook, odd[column, NOT_UTF_8])
        assert accepted == 0
        assert "\ufffd" in str(why)
