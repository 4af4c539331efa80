"""A screen that crashes in a loop: it is begun again ever more slowly, and the engine goes on."""

from __future__ import annotations

import os
import signal
import socket
import subprocess
import sys
import time
from pathlib import Path

import pytest
from trouble_shift import TOML, until

from firmware_py.health.record import EngineHealth, path_of, read
from firmware_py.logbook.opening import open_engine
from firmware_py.logbook.reading import Reader
from firmware_py.logbook.requests import leave_hand
from firmware_py.service.supervisor import BACK_OFF_S, Child

APPLIANCE = """
import sys
import time
from pathlib import Path
from firmware_py.service.starting import Appliance
from firmware_py.service.supervisor import Supervisor
appliance = Appliance(Path(sys.argv[1]), sys.argv[2], True, "127.0.0.1", 0)
screen = [sys.executable, "-c", "raise SystemExit(3)"]
sys.exit(Supervisor(appliance.engine_command, screen, lambda text: print(text, flush=True)).run())
"""


def test_a_screen_that_crashes_in_a_loop(tmp_path: Path) -> None:
    layout, logbook = tmp_path / "gravel.toml", tmp_path / "gravel.sqlite"
    layout.write_text(TOML, "utf-8")
    told = tmp_path / "notify"
    listening = socket.socket(socket.AF_UNIX, socket.SOCK_DGRAM)
    listening.bind(str(told))
    listening.setblocking(False)
    environ = {**os.environ, "NOTIFY_SOCKET": str(told), "WATCHDOG_USEC": "600000"}
    database = open_engine(str(logbook))
    reader = Reader(database)
    words: list[str] = []

    def hear(word: str) -> int:
        while True:
            try:
                words.extend(listening.recv(4_096).decode().split("\n"))
            except BlockingIOError:
                return sum(said.startswith(word) for said in words)

    command = [sys.executable, "-c", APPLIANCE, str(layout), str(logbook)]
    with subprocess.Popen(command, stdout=subprocess.PIPE, text=True, env=environ) as appliance:
        assert appliance.stdout is not None
        try:
            said = [appliance.stdout.readline() for _ in range(3)]
            assert [line.split()[-2] for line in said] == ["0.5", "1", "2"]
            assert all("screen stopped (exit status 3)" in line for line in said)
            until(lambda: hear("READY=1") == 1)
            record = path_of(str(logbook), EngineHealth)
            until(lambda: read(record, EngineHealth))
            health = read(record, EngineHealth)
            assert health is not None
            left = leave_hand(database, "pit-switch.hasp", False, time.time_ns() // 1_000)
            until(lambda: reader.request(left).accepted)
            until(lambda: _shows_red(reader))
            fed = hear("WATCHDOG=1")
            until(lambda: hear("WATCHDOG=1") > fed)
            after = read(record, EngineHealth)
            assert after is not None
            assert after.pid == health.pid, "the engine was left alone"
        finally:
            appliance.send_signal(signal.SIGTERM)
            rest = appliance.stdout.read()
            assert appliance.wait(30) == 0
    assert "engine stopped" not in rest
    assert hear("STOPPING=1") == 1
    listening.close()
    reader.close()
    database.dispose()


def _shows_red(reader: Reader) -> bool:
    session = reader.session()
    assert session is not None
    lines = [entry.line for entry in reader.entries(session.id, kinds=["output"])]
    return any(line.get("shows") == "flashing" for line in lines)


def test_the_back_off_grows_and_begins_anew_after_a_good_while() -> None:
    child = Child("screen", ["screen"])
    waits = [child.fell(now_s=1.0) for _ in range(9)]
    assert waits == [*BACK_OFF_S, 30.0, 30.0, 30.0]
    assert child.fell(now_s=1_000.0) == pytest.approx(BACK_OFF_S[0])
