"""Two hundred watchers at one screen: what each gets, and what is left when they have gone."""

from __future__ import annotations

import sqlite3
import sys
from contextlib import closing
from pathlib import Path

import pytest
from web_filled import Filler

from watchers.crowd import Crowd, called
from watchers.screen import ScreenProcess

MANY = 200
CHANGES = 20
STALLED = 5
ROUNDS = 4
SLACK_MB = 6.0
"""The allocator keeps some; two hundred streams that were not let go would be more."""

pytestmark = pytest.mark.skipif(sys.platform != "linux", reason="asks Linux about a process")


def entries(logbook: Path) -> list[int]:
    """The numbers of all entries, in their order."""
    with closing(sqlite3.connect(logbook)) as book:
        return [row[0] for row in book.execute("SELECT id FROM entry ORDER BY id")]


def change(filler: Filler, number: int) -> None:
    """The coal switch's padlock is opened or locked, and that is committed."""
    filler.read(10.0 * number, "coal-switch.hasp", number % 2 == 0)
    filler.wait(10.0 * number + 5)


def test_each_of_two_hundred_gets_every_change_though_some_read_nothing(
    screen: ScreenProcess, filler: Filler, logbook: Path
) -> None:
    change(filler, 1)
    before = entries(logbook)
    crowd = Crowd(screen.port, MANY, keeps=True)
    silent = [called(screen.port, room=4096) for _ in range(STALLED)]
    crowd.settle()
    for number in range(2, CHANGES + 2):
        change(filler, number)
    after = entries(logbook)
    crowd.hear(after[-1])
    assert len(after) > len(before)
    for watcher in crowd.watchers:
        began = watcher.heard[0][1]
        assert watcher.entries() == [entry for entry in after if entry > began]
    crowd.leave()
    for line in silent:
        line.close()


def test_crowds_that_come_and_go_leave_nothing_behind(
    screen: ScreenProcess, filler: Filler
) -> None:
    held = []
    for number in range(1, ROUNDS + 1):
        crowd = Crowd(screen.port, MANY)
        crowd.settle()
        assert screen.health()["streams"] == MANY
        change(filler, number)
        crowd.leave()
        screen.empty()
        held.append((screen.memory_mb(), screen.threads(), screen.files()))
    assert screen.health()["streams"] == 0
    first, last = held[0], held[-1]
    assert last[0] < first[0] + SLACK_MB, held
    assert last[1] <= first[1] + 2, held
    assert last[2] <= first[2] + 4, held


def test_a_stop_ends_every_stream(screen: ScreenProcess) -> None:
    crowd = Crowd(screen.port, MANY)
    crowd.settle()
    screen.stop()
    crowd.end()
    crowd.leave()
