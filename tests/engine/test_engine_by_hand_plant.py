"""Hands at outputs with nothing but the pins simulated: threads, queue, logbook, requests."""

from __future__ import annotations

import time
from pathlib import Path
from random import Random

import pytest
from engine_plant import plant_of, replays, running, until
from engine_turns import LAYOUT, closed, newest, opened, wall_us
from sqlalchemy import Engine as Database
from sqlalchemy import insert

from firmware_py.core.names import Shows
from firmware_py.logbook.reading import Reader
from firmware_py.logbook.records import RequestRecord
from firmware_py.logbook.requests import BACK, leave_by_hand
from firmware_py.logbook.tables import BY_HAND

RED, GREEN = "mill-switch.red", "mill-switch.green"
CONTACTS = ("mill-switch.hasp", "mill-switch.reverse", "mill-flag.rack")


@pytest.fixture
def layout_file(tmp_path: Path) -> Path:
    path = tmp_path / "basin.toml"
    path.write_text(LAYOUT, "utf-8")
    return path


def ask(reader: Reader, output: str, command: str) -> RequestRecord:
    left = leave_by_hand(reader.engine, output, command, "10.0.0.7", wall_us())
    until(lambda: reader.request(left).answered_wall_us)
    return reader.request(left)


def texts(reader: Reader) -> str:
    return "\n".join(remark.text for remark in reader.remarks(None, 100))


def test_a_hand_is_asked_for_logged_and_taken_off_through_the_logbook(
    layout_file: Path, reader: Reader, database: Database
) -> None:
    with running(plant_of(layout_file)) as plant:
        assert ask(reader, GREEN, "off").accepted
        [hand] = reader.by_hand()
        assert (hand.output, hand.shows, hand.whence) == (GREEN, "off", "10.0.0.7")
        assert hand.since_t_us < hand.until_t_us
        assert plant.board.shown()["mill-switch", "green"] is Shows.OFF
        assert not plant.board.outputs["mill-switch", "green"].is_active
        assert ask(reader, GREEN, BACK).accepted
        assert reader.by_hand() == []
        assert plant.board.shown()["mill-switch", "green"] is Shows.STEADY
        assert ask(reader, GREEN, "drawn").why is not None
        assert ask(reader, "mill-switch.moon", "off").why == (
            "the layout has no output 'mill-switch.moon'"
        )
        assert ask(reader, GREEN, "x" * 5_000).accepted is False
    said = texts(reader)
    assert "Green lamp of Mill switch worked by hand from the bench: off for 60 s" in said
    assert "taken off by the host at 10.0.0.7" in said


def test_a_hand_whose_screen_has_died_ends_by_itself(
    layout_file: Path, reader: Reader, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Nobody takes it off, and nothing else happens; the minute is a shorter one here."""
    monkeypatch.setattr("firmware_py.engine.by_hand.LASTS_US", 400_000)
    with running(plant_of(layout_file)) as plant:
        assert ask(reader, RED, "flashing").accepted
        until(lambda: not reader.by_hand())
        assert plant.board.shown()["mill-switch", "red"] is Shows.OFF
    assert "off again: its time was up" in texts(reader)


def test_opening_a_session_takes_every_hand_off(layout_file: Path, reader: Reader) -> None:
    with running(plant_of(layout_file)) as plant:
        assert ask(reader, RED, "steady").accepted
        opened(reader)
        assert reader.by_hand() == []
        assert plant.board.shown()["mill-switch", "red"] is Shows.OFF
        refused = ask(reader, GREEN, "steady")
        assert "close the session first" in str(refused.why)
        assert ask(reader, RED, "steady").accepted, "what takes a promise away may be shown"
        closed(reader)
        assert reader.by_hand() == []


def test_a_hand_that_a_killed_engine_has_left_is_gone_with_the_next_start(
    layout_file: Path, reader: Reader, database: Database
) -> None:
    """A killed engine writes nothing any more: its hand stands in the log as it was."""
    with running(plant_of(layout_file), ends=False):
        session = newest(reader).id
    left = {
        "output": GREEN, "shows": "steady", "whence": "10.0.0.7",
        "since_t_us": 1, "until_t_us": 10**15, "until_wall_us": 10**16,
    }  # fmt: skip
    with database.begin() as connection:
        connection.execute(insert(BY_HAND).values(left))
    with running(plant_of(layout_file)) as plant:
        until(lambda: not reader.by_hand())
        assert newest(reader).id == session, "the session goes on"
        core = plant.engine.core
        assert core is not None
        assert plant.board.shown() == dict(core.outputs())


def test_a_session_with_hands_replays_to_its_entries(
    layout_file: Path, reader: Reader, database: Database
) -> None:
    """Rulebook section 10: a tape knows of no hands."""
    random = Random(4)
    outputs = [f"mill-switch.{name}" for name in ("green", "red", "white")]
    with running(plant_of(layout_file)) as plant:
        for _ in range(60):
            plant.hand(random.choice(CONTACTS), random.random() < 0.5)
            command = random.choice([BACK, *Shows])
            leave_by_hand(database, random.choice(outputs), command, "10.0.0.7", wall_us())
            time.sleep(0.02)
        until(lambda: not plant.engine._queue.qsize())
    replays(reader, newest(reader))
    assert "worked by hand" in texts(reader)
