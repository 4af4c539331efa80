"""The whole service as its user starts it, on real lines: an honest beginning, and SIGKILL."""

from __future__ import annotations

import time
from collections.abc import Iterator
from pathlib import Path

import pytest
from service import processes
from service.processes import Running, running

from firmware_py.logbook.opening import open_engine
from firmware_py.logbook.reading import Reader
from firmware_py.logbook.requests import leave_order
from kernel.inside.guarding import until
from kernel.inside.sim import SimChip

LAYOUT = """
[[switch]]
id = "mill-switch"
contacts = { hasp = 5, normal = 6, reverse = 13 }
lamps = { green = 20, red = 21, white = 16 }
bolt = 12
buzzer = 18

[[spur]]
id = "mill"
switch = "mill-switch"
foreman = "host"
power = 17

[[flag]]
id = "mill-flag"
spur = "mill"
contacts = { rack = 24 }
lamp = 25
"""
GREEN, RED, WHITE, BOLT, BUZZER, POWER, LAMP = OUTPUTS = (20, 21, 16, 12, 18, 17, 25)
EMULATED_S = 200.0
"""Three processes start in here; an emulated machine on a busy one takes its time."""
STEADY = (GREEN, RED, BOLT, BUZZER, POWER)
HASP, NORMAL, RACK = 5, 6, 24


class Log:
    """The service's logbook, looked at and written to as the screen does."""

    def __init__(self, path: Path) -> None:
        self._database = open_engine(str(path))
        self._reader = Reader(self._database)

    def order(self, command: str) -> None:
        number = leave_order(self._database, command, spur="mill", wall_us=time.time_ns() // 1000)
        until(lambda: self._reader.request(number).answered_wall_us, f"no answer to {command}")
        answer = self._reader.request(number)
        assert answer.accepted, answer.why

    def entries(self) -> list[dict]:
        session = self._reader.session()
        assert session is not None
        return [entry.line for entry in self._reader.entries(session.id)]

    def sessions(self) -> int:
        return len(self._reader.sessions())

    def close(self) -> None:
        self._reader.close()
        self._database.dispose()


@pytest.fixture
def service(tmp_path: Path, header: SimChip, monkeypatch: pytest.MonkeyPatch) -> Iterator[Running]:
    layout = tmp_path / "mill.toml"
    layout.write_text(LAYOUT)
    for line in (HASP, NORMAL):
        header.hold(line, True)
    header.hold(13, False)
    header.hold(RACK, False)
    arguments = ["run", str(layout), "--minutes", "60"]
    monkeypatch.setattr(processes, "GENEROUS_S", EMULATED_S)
    with running(arguments, tmp_path) as service:
        yield service


def levels(header: SimChip, lines: tuple[int, ...] = OUTPUTS) -> list[bool]:
    return [header.value(line) for line in lines]


def test_killed_and_back(service: Running, header: SimChip, tmp_path: Path) -> None:
    log = Log(tmp_path / "mill.sqlite")
    until(lambda: header.value(GREEN), "no green, though it is locked for the main track")
    log.order("ask")
    log.order("release")
    header.hold(RACK, True)
    until(lambda: header.value(BOLT), "the bolt was not drawn for the crew")
    drawn = levels(header, STEADY)

    service.kill(service.engine())
    until(lambda: not any(levels(header)), "an output stayed on, though nobody drives it")
    assert not any(header.in_use(line) for line in OUTPUTS)

    until(lambda: levels(header, STEADY) == drawn, "the next engine leads on from elsewhere")
    service.guards()
    assert log.sessions() == 1, "the session goes on"
    header.hold(HASP, False)
    until(lambda: header.value(RED) and not header.value(GREEN), "unlocked, and not red")
    stages = [entry["stage"] for entry in log.entries() if entry["what"] == "stage"]
    assert stages == ["unlocked"], "and nobody is blamed for the kill"
    assert not [entry for entry in log.entries() if entry["what"] == "violation"]

    assert service.stop() == 0
    assert levels(header) == [False] * len(OUTPUTS), "a clean stop leaves nothing on"
    log.close()
