"""``spurlock run`` and ``spurlock demo`` as their users start them: real processes, and kills."""

from __future__ import annotations

import signal
import sqlite3
import subprocess
from collections.abc import Iterator
from importlib.resources import files
from pathlib import Path

import pytest

from service.processes import GENEROUS_S, SPURLOCK, Running, alive, running, until
from service.signing_in import give_pin

LAYOUT = files("firmware_py.demo") / "layouts" / "wendlebeck.toml"

pytestmark = pytest.mark.skipif(
    not Path("/proc/self/stat").exists(), reason="children are found by /proc, which isn't here"
)


@pytest.fixture
def layout(tmp_path: Path) -> Path:
    path = tmp_path / "wendlebeck.toml"
    path.write_text(LAYOUT.read_text("utf-8"), "utf-8")
    return path


@pytest.fixture
def spurlock(layout: Path, tmp_path: Path) -> Iterator[Running]:
    give_pin(layout.with_suffix(".sqlite"))
    with running(["run", str(layout), "--simulated"], tmp_path) as spurlock:
        yield spurlock


def stage(spurlock: Running, row: str) -> str:
    state = spurlock.get("/api/state")
    return str(state["rows"][row]["stage"]) if state else ""


def finished(arguments: list[str]) -> subprocess.CompletedProcess[str]:
    return subprocess.run(
        [*SPURLOCK, *arguments], capture_output=True, text=True, timeout=GENEROUS_S, check=False
    )


def test_it_guards_keeps_a_logbook_beside_the_layout_and_stops_cleanly(
    spurlock: Running, layout: Path
) -> None:
    logbook = layout.with_suffix(".sqlite")
    assert logbook.exists()
    assert spurlock.address in spurlock.said
    children = [spurlock.engine(), spurlock.screen()]
    assert spurlock.stop() == 0
    assert not any(alive(pid) for pid in children)
    assert "Traceback" not in spurlock.said
    with sqlite3.connect(logbook) as connection:
        [(state,)] = connection.execute("SELECT state FROM pulse").fetchall()
    assert state == "stopped"


def test_it_stops_as_cleanly_on_sigterm(spurlock: Running) -> None:
    assert spurlock.stop(signal.SIGTERM) == 0
    assert "Traceback" not in spurlock.said


def test_the_engine_comes_back_while_the_screen_answers(spurlock: Running) -> None:
    spurlock.hand("foundry-switch.hasp", False)
    until(lambda: stage(spurlock, "foundry") == "unlocked")
    engine, screen = spurlock.engine(), spurlock.screen()
    spurlock.kill(engine)
    until(lambda: (found := spurlock.get("/health")) and not found["live"])
    until(lambda: spurlock.get("/health")["live"])
    assert spurlock.engine() != engine
    assert spurlock.screen() == screen
    assert spurlock.live()
    assert "The engine stopped (signal SIGKILL)" in spurlock.said
    spurlock.hand("creamery-switch.hasp", False)
    until(lambda: stage(spurlock, "creamery") == "unlocked")


def test_the_screen_comes_back_at_the_same_address_while_the_engine_goes_on(
    spurlock: Running,
) -> None:
    engine, screen = spurlock.engine(), spurlock.screen()
    before = spurlock.get("/api/state")["head"]["session"]
    spurlock.kill(screen)
    until(lambda: not alive(screen))
    spurlock.guards()
    assert spurlock.screen() != screen
    assert spurlock.engine() == engine
    assert spurlock.get("/api/state")["head"]["session"] == before
    spurlock.hand("foundry-switch.hasp", False)
    until(lambda: stage(spurlock, "foundry") == "unlocked")


def test_it_ends_by_itself_after_its_minutes(layout: Path, tmp_path: Path) -> None:
    spurlock = Running(["run", str(layout), "--simulated", "--minutes", "0.05"], tmp_path, 0)
    assert spurlock.process.wait(GENEROUS_S) == 0, spurlock.said


def test_a_layout_that_cannot_be_read_ends_it_before_anything_starts(layout: Path) -> None:
    layout.write_text(layout.read_text("utf-8").replace('lock = "none"', 'lock = "wax"'), "utf-8")
    ended = finished(["run", str(layout), "--simulated"])
    assert ended.returncode == 2
    [line] = ended.stderr.splitlines()
    assert line.startswith(f"{layout}:")
    assert "wax" in line
    assert not layout.with_suffix(".sqlite").exists()


@pytest.mark.skipif(any(Path("/dev").glob("gpiochip*")), reason="there are real pins here")
def test_real_pins_that_are_not_there_end_it_with_one_clear_line(layout: Path) -> None:
    without_chips = layout.read_text("utf-8").partition("# --- The expanders")[0]
    layout.write_text(without_chips, "utf-8")
    ended = finished(["run", str(layout), "--port", "0"])
    assert ended.returncode == 2
    [line] = ended.stderr.splitlines()
    assert "simulated" in line


def test_an_address_that_is_not_this_machines_is_refused(layout: Path) -> None:
    """192.0.2.1 is set aside for examples (RFC 5737)."""
    ended = finished(["run", str(layout), "--simulated", "--host", "192.0.2.1"])
    assert ended.returncode == 2
    assert "192.0.2.1" in ended.stderr
    assert "Traceback" not in ended.stderr


def test_the_demo_says_where_it_is_and_its_crews_work(tmp_path: Path) -> None:
    folder = tmp_path / "demo"
    arguments = ["demo", "--pace", "20", "--seed", "3", "--folder", str(folder)]
    with running(arguments, tmp_path) as demo:
        assert str(folder / "logbook.sqlite") in demo.said
        assert demo.address in demo.said
        until(lambda: any(row["phase"] == "working" for row in _rows(demo)))
        assert demo.stop() == 0
        assert "Traceback" not in demo.said


def _rows(demo: Running) -> list[dict[str, str]]:
    state = demo.get("/api/state")
    return list(state["rows"].values()) if state else []
