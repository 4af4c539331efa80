"""The head says why the logbook stands still, by the engine's own word if that is believable."""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path

import msgspec
import pytest
from test_web_live import Monotonic, assert_nothing_safe, clock
from web_filled import Filler, busy_evening
from web_screen import Screen

from firmware_py.health.record import STALE_AFTER_S, EngineHealth, Part, boot_id, now_us, write
from web.live.follow import Follower
from web.live.heart import ASK_EVERY_S, Account
from web.live.hub import Hub

__all__ = ["clock"]
FULL = "its disk is full; free some space there (database or disk is full)"
MOVES = tuple(Part(name, True) for name in ("pins", "queue", "core"))


def health(*parts: Part, **more: object) -> EngineHealth:
    well = EngineHealth(
        os.getpid(), boot_id(), now_us(), "guarding", "Tarn Hollow", True, parts or MOVES
    )
    return msgspec.structs.replace(well, **more)


def unwritten(**more: object) -> EngineHealth:
    return health(*MOVES, Part("logbook", True, FULL), **more)


@pytest.fixture
def record(tmp_path: Path) -> Path:
    return tmp_path / "engine.json"


@pytest.fixture
def told(screen: Screen, record: Path, clock: Monotonic) -> Screen:
    """A screen that knows where the engine leaves its words."""
    screen.follower.close()
    screen.follower = Follower(screen.reader, Hub(2), record)
    return screen


def gone() -> int:
    """The number of a process that is no more."""
    with subprocess.Popen([sys.executable, "-c", ""]) as process:
        process.wait()
    return process.pid


def test_the_head_names_the_reason_and_nothing_is_proven(
    told: Screen, filler: Filler, record: Path, clock: Monotonic
) -> None:
    busy_evening(filler)
    assert told.wake(filler)["head"]["live"] is True
    write(record, unwritten())
    clock.now += ASK_EVERY_S
    state = told.look()
    assert state["head"]["engine"] == "unwritten"
    assert state["head"]["engine_says"] == (
        f"The engine guards, but the logbook can't be written: {FULL}. "
        "What stands here is old. Go by the lamps at the switches"
    )
    assert_nothing_safe(state)
    clock.now += 60
    write(record, unwritten())
    assert told.look()["head"]["engine"] == "unwritten"
    write(record, health(*MOVES, Part("logbook", True)))
    filler.beat()
    clock.now += ASK_EVERY_S
    assert told.look()["head"]["live"] is True


def test_an_engine_that_stands_still_besides_is_not_said_to_guard(
    told: Screen, filler: Filler, record: Path
) -> None:
    stuck = Part("queue", False, "what is put into the engine's queue does not come out")
    write(record, health(MOVES[0], stuck, Part("logbook", False, FULL)))
    says = told.look()["head"]["engine_says"]
    assert says.startswith("The engine stands still, and the logbook can't be written: queue: ")
    assert "does not come out" in says
    assert FULL in says
    assert says.endswith("Treat every switch as red")


@pytest.mark.parametrize(
    "more",
    [
        {"at_us": now_us() - round((STALE_AFTER_S + 1) * 1_000_000)},
        {"at_us": now_us() + 3_600_000_000},
        {"boot": "another"},
        {"pid": gone()},
        {"pid": 0},
        {"pid": -1},
        {"pid": 2**62},
    ],
)
def test_a_record_that_is_not_fresh_is_not_believed(
    told: Screen, filler: Filler, record: Path, clock: Monotonic, more: dict[str, object]
) -> None:
    told.wake(filler)
    write(record, unwritten(**more))
    clock.now += 60
    assert told.look()["head"]["engine"] == "silent"


@pytest.mark.parametrize("text", [b"", b"{", b"\xff\xff", b'{"pid": "x"}'])
def test_a_record_that_can_not_be_understood_is_none(
    told: Screen, filler: Filler, record: Path, text: bytes
) -> None:
    record.write_bytes(text)
    assert told.wake(filler)["head"]["live"] is True


def test_trouble_elsewhere_is_not_the_logbooks(told: Screen, filler: Filler, record: Path) -> None:
    write(record, health(Part("pins", False, "not noticed"), Part("logbook", True)))
    assert told.wake(filler)["head"]["engine"] == "guarding"


def test_the_record_is_not_asked_at_every_look(record: Path) -> None:
    account = Account(record)
    assert account.ask(10.0) is None
    write(record, unwritten())
    assert account.ask(10.0 + ASK_EVERY_S / 2) is None
    assert account.ask(10.0 + ASK_EVERY_S) is not None
    assert Account(None).ask(10.0) is None


def test_a_reason_without_end_is_cut(record: Path) -> None:
    write(record, health(Part("logbook", True, "x" * 100_000)))
    heard = Account(record).ask(0.0)
    assert heard is not None
    assert len(heard.says) < 600
