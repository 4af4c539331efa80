"""Sessions opened and closed on the appliance as it is run: real processes, and kills."""

from __future__ import annotations

import json
import subprocess
from collections.abc import Iterator
from importlib.resources import files
from pathlib import Path
from typing import Any

import pytest
from service.processes import GENEROUS_S, SPURLOCK, Running, running, until
from service.signing_in import give_pin

from firmware_py.logbook.opening import open_to_read
from firmware_py.logbook.reading import Reader
from firmware_py.logbook.records import SessionRecord

pytestmark = pytest.mark.skipif(
    not Path("/proc/self/stat").exists(), reason="children are found by /proc, which isn't here"
)


@pytest.fixture
def layout(tmp_path: Path) -> Path:
    path = tmp_path / "wendlebeck.toml"
    path.write_text((files("firmware_py.demo") / "layouts" / path.name).read_text("utf-8"), "utf-8")
    return path


@pytest.fixture
def spurlock(layout: Path, tmp_path: Path) -> Iterator[Running]:
    give_pin(layout.with_suffix(".sqlite"))
    with running(["run", str(layout), "--simulated"], tmp_path) as spurlock:
        yield spurlock


def head(spurlock: Running) -> dict[str, Any]:
    state = spurlock.get("/api/state")
    return dict(state["head"]) if state else {}


def left(spurlock: Running, command: str) -> int:
    said = spurlock.post("/api/session", {"command": command})
    assert said, spurlock.said
    return int(said["request"])


def answer(spurlock: Running, number: int) -> dict[str, Any]:
    def answered() -> dict[str, Any] | None:
        said = spurlock.get(f"/api/requests/{number}")
        return said if said and said["accepted"] is not None else None

    found = until(answered)
    assert found is not None
    return found


def turned(spurlock: Running, command: str) -> int:
    """Turn the session and wait until the screen follows the new one; gives its number."""
    assert answer(spurlock, left(spurlock, command))["accepted"]
    until(lambda: head(spurlock).get("opened") is (command == "open") and spurlock.live())
    return int(head(spurlock)["session"])


def sessions_of(layout: Path) -> list[SessionRecord]:
    """Every session, oldest first."""
    engine = open_to_read(str(layout.with_suffix(".sqlite")))
    reader = Reader(engine)
    try:
        return list(reversed(reader.sessions()))
    finally:
        reader.close()
        engine.dispose()


def said(*words: str) -> str:
    done = subprocess.run(
        [*SPURLOCK, *words], capture_output=True, text=True, timeout=GENEROUS_S, check=False
    )
    assert done.returncode == 0, done.stderr
    return done.stdout


def every_tape_replays(layout: Path, folder: Path) -> None:
    """``spurlock log --as tape`` of each session, replayed, is ``spurlock log --as json`` of it."""
    logbook = str(layout.with_suffix(".sqlite"))
    for session in sessions_of(layout):
        of = ["--session", str(session.id)]
        tape = folder / f"tape-{session.id}.jsonl"
        tape.write_text(said("log", logbook, *of, "--as", "tape"), "utf-8")
        replayed = [
            json.loads(line) for line in said("replay", str(layout), str(tape)).splitlines()
        ]
        logged = [
            json.loads(line) for line in said("log", logbook, *of, "--as", "json").splitlines()
        ]
        assert replayed == logged


def test_an_evening_is_opened_worked_closed_and_told_of(
    spurlock: Running, layout: Path, tmp_path: Path
) -> None:
    assert head(spurlock)["opened"] is False
    assert spurlock.get("/api/restore-check")["clear"] is True
    session = turned(spurlock, "open")
    again = answer(spurlock, left(spurlock, "open"))
    assert (again["accepted"], again["why"]) == (False, "a session is open already")
    spurlock.hand("brickyard-switch.hasp", False)
    until(lambda: not spurlock.get("/api/restore-check")["clear"])
    spurlock.hand("lower-key.hook", False)
    until(lambda: "keys" in {p["id"] for p in spurlock.get("/api/restore-check")["places"]})
    between = turned(spurlock, "close")
    assert between > session
    check = spurlock.get("/api/restore-check")
    things = {item["thing"] for place in check["places"] for item in place["items"]}
    assert things == {"brickyard-switch", "lower-key"}, "contacts are as they were, no violation"
    told = spurlock.get(f"/api/debrief/{session}")
    assert [one["rule"] for one in told["violations"]] == ["key-on-hook", "out-of-order"]
    assert told["keys_not_home"] == [{"key": "lower-key", "known": True}]
    assert told["ended"] is True
    twice = answer(spurlock, left(spurlock, "close"))
    assert (twice["accepted"], twice["why"]) == (False, "no session is open")
    assert spurlock.stop() == 0
    assert [one.opened for one in sessions_of(layout)] == [False, True, False]
    every_tape_replays(layout, tmp_path)


@pytest.mark.parametrize("command", ["open", "close"])
def test_a_kill_right_after_a_turn_loses_no_evening(
    spurlock: Running, layout: Path, tmp_path: Path, command: str
) -> None:
    """Either the turn was kept or it was not; what stands then is gone on with, whole."""
    if command == "close":
        turned(spurlock, "open")
    spurlock.hand("foundry-switch.hasp", False)
    until(lambda: not spurlock.get("/api/restore-check")["clear"])
    engine = spurlock.engine()
    number = left(spurlock, command)
    spurlock.kill(engine)
    until(lambda: spurlock.child("firmware_py.service.engine_process") not in {None, engine})
    until(spurlock.live)
    answer(spurlock, number)
    wanted = command == "open"
    until(lambda: head(spurlock)["opened"] is wanted)
    # Simulated contacts are at rest again after a kill: what moved meanwhile settles anew.
    until(lambda: spurlock.get("/api/restore-check")["clear"])
    assert spurlock.stop() == 0
    assert [one.opened for one in sessions_of(layout)][-1] is wanted
    every_tape_replays(layout, tmp_path)


def test_a_stop_between_sessions_comes_back_between_them(
    spurlock: Running, layout: Path, tmp_path: Path
) -> None:
    turned(spurlock, "open")
    between = turned(spurlock, "close")
    engine = spurlock.engine()
    spurlock.kill(engine)
    until(lambda: spurlock.child("firmware_py.service.engine_process") not in {None, engine})
    until(spurlock.live)
    assert head(spurlock)["session"] == between
    assert head(spurlock)["opened"] is False
