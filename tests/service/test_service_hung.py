"""An engine that hangs is killed and comes back, with no service manager to see to it."""

from __future__ import annotations

import os
import signal
from collections.abc import Iterator
from importlib.resources import files
from pathlib import Path

import pytest

from firmware_py.health.record import EngineHealth, Part, path_of, read, write
from firmware_py.service import supervisor as room
from firmware_py.service.supervisor import ASK_EVERY_S, HUNG_AFTER, Vigil
from service.processes import Running, alive, running, until

LAYOUT = files("firmware_py.demo") / "layouts" / "wendlebeck.toml"
PID = 4_321


@pytest.fixture
def layout(tmp_path: Path) -> Path:
    layout = tmp_path / "wendlebeck.toml"
    layout.write_text(LAYOUT.read_text("utf-8"), "utf-8")
    return layout


@pytest.fixture
def spurlock(layout: Path, tmp_path: Path) -> Iterator[Running]:
    with running(["run", str(layout), "--simulated"], tmp_path) as spurlock:
        yield spurlock


@pytest.mark.skipif(not Path("/proc/self/stat").exists(), reason="children are found by /proc")
def test_an_engine_that_is_stopped_is_killed_and_comes_back(
    spurlock: Running, layout: Path
) -> None:
    """SIGSTOP is as hung as a process can be: it heeds no SIGTERM either."""
    hung, screen = spurlock.engine(), spurlock.screen()
    record = path_of(str(layout.with_suffix(".sqlite")), EngineHealth)
    written: set[int] = set()

    def moves() -> bool:
        """Whether its record was written so often that the supervisor saw it move too."""
        health = read(record, EngineHealth)
        written.update([health.at_us] if health and health.state == "guarding" else [])
        return len(written) > 2

    until(moves)
    os.kill(hung, signal.SIGSTOP)
    until(lambda: not alive(hung))
    until(lambda: (health := read(record, EngineHealth)) and health.pid != hung)
    until(lambda: (found := spurlock.get("/health")) and found["live"])
    assert spurlock.engine() != hung
    assert spurlock.screen() == screen
    assert "The engine has shown no life for 20 s; it is killed." in spurlock.said
    assert "The engine stopped (signal SIGKILL); it starts again in 0.5 s." in spurlock.said


class Watch:
    """A vigil over a record that the test writes, a second at each look."""

    def __init__(self, record: Path) -> None:
        self.record = record
        self.vigil = Vigil(record)
        self.now_s = 100.0
        self.at_us = 1

    def writes(self, *, pid: int = PID, moves: bool = True) -> None:
        self.at_us += 1
        parts = (Part("pins", True), Part("core", moves, None if moves else "not served"))
        about = EngineHealth(pid, "boot", self.at_us, "guarding", "Wendlebeck", True, parts)
        assert write(self.record, about)

    def looks(self, pid: int = PID) -> bool:
        self.now_s += ASK_EVERY_S
        return self.vigil.hangs(pid, self.now_s)

    def well(self) -> None:
        for _ in range(2):
            self.writes()
            assert not self.looks()


@pytest.fixture
def watch(tmp_path: Path) -> Watch:
    return Watch(tmp_path / "engine.json")


def test_an_engine_hangs_when_its_record_stands_still(watch: Watch) -> None:
    watch.well()
    assert [watch.looks() for _ in range(HUNG_AFTER)] == [False] * (HUNG_AFTER - 1) + [True]
    assert list(watch.record.parent.iterdir()) == [watch.record], "nothing is left lying about"


def test_a_record_that_is_gone_is_no_sign_of_life(watch: Watch) -> None:
    watch.well()
    watch.record.unlink()
    assert [watch.looks() for _ in range(HUNG_AFTER)][-1]


def test_an_engine_that_says_that_it_stands_still_hangs_too(watch: Watch) -> None:
    """Its watchman goes on, and says so: under systemd its watchdog would starve."""
    watch.well()
    found = []
    for _ in range(HUNG_AFTER):
        watch.writes(moves=False)
        found.append(watch.looks())
    assert found == [False] * (HUNG_AFTER - 1) + [True]


def test_a_sign_of_life_begins_the_count_anew(watch: Watch) -> None:
    watch.well()
    for _ in range(3):
        assert not any(watch.looks() for _ in range(HUNG_AFTER - 1))
        watch.writes()
        assert not watch.looks()


def test_looks_are_counted_and_not_the_time_between_them(watch: Watch) -> None:
    """The whole machine may have slept."""
    watch.well()
    watch.now_s += 10_000
    assert not watch.looks()
    assert not any(watch.vigil.hangs(PID, watch.now_s + 0.1) for _ in range(3 * HUNG_AFTER))


@pytest.mark.parametrize("times", [0, 1])
def test_an_engine_whose_record_never_moved_is_left_alone(watch: Watch, times: int) -> None:
    """It may take long to start; and one old record may be another's of the same number."""
    for _ in range(times):
        watch.writes()
    assert not any(watch.looks() for _ in range(3 * HUNG_AFTER))


def test_another_engine_starts_afresh(watch: Watch) -> None:
    watch.well()
    assert not any(watch.looks(PID + 1) for _ in range(3 * HUNG_AFTER))


def test_where_no_record_can_be_written_an_old_one_proves_nothing(
    watch: Watch, monkeypatch: pytest.MonkeyPatch
) -> None:
    watch.well()
    monkeypatch.setattr(room, "write", lambda *_: False)
    assert not any(watch.looks() for _ in range(3 * HUNG_AFTER))
    monkeypatch.undo()
    assert any(watch.looks() for _ in range(HUNG_AFTER))


def test_without_a_record_nobody_can_tell() -> None:
    assert not Vigil(None).hangs(PID, 1_000.0)
