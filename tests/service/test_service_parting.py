"""Each part started alone, as a service manager does, and what it tells it."""

from __future__ import annotations

import os
import socket
import subprocess
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path

import gevent
import pytest

from firmware_py.health.record import (
    ApplianceHealth,
    CourierHealth,
    EngineHealth,
    GathererHealth,
    path_of,
    read,
)
from firmware_py.service.parting import Part, become, patience_s
from firmware_py.service.starting import Appliance, free_port
from firmware_py.service.supervisor import BACK_OFF_S, WELL_AFTER_S, Child
from service.processes import GENEROUS_S, SPURLOCK
from web.server.keeping_alive import keep_alive

LAYOUT = """
[layout]
name = "Mill"

[[switch]]
id = "mill-switch"
contacts = { hasp = 5, normal = 6, reverse = 13 }
"""
IS_UP = "READY=1"
LIVES = "WATCHDOG=1"


class Manager:
    """Hears what a service tells its manager; its watchdog wants to be fed each second."""

    def __init__(self, folder: Path) -> None:
        self._socket = socket.socket(socket.AF_UNIX, socket.SOCK_DGRAM)
        self._socket.bind(str(folder / "notify"))
        self._socket.settimeout(GENEROUS_S)
        self.environ = {"NOTIFY_SOCKET": str(folder / "notify"), "WATCHDOG_USEC": "2000000"}

    def hears(self, word: str) -> list[str]:
        """Wait for a word; all that was said up to it."""
        heard: list[str] = []
        while word not in heard:
            heard += self._socket.recv(4_096).decode().split("\n")
        return heard

    def close(self) -> None:
        """Hear no more."""
        self._socket.close()


@pytest.fixture
def manager(tmp_path: Path) -> Iterator[Manager]:
    manager = Manager(tmp_path)
    yield manager
    manager.close()


@pytest.fixture
def layout(tmp_path: Path) -> Path:
    path = tmp_path / "mill.toml"
    path.write_text(LAYOUT, "utf-8")
    return path


@contextmanager
def started(manager: Manager, layout: Path, *words: str) -> Iterator[subprocess.Popen[bytes]]:
    what = ["run", str(layout), "--simulated"] if layout.stem == "mill" else ["board", str(layout)]
    command = [*SPURLOCK, *what, *words]
    process = subprocess.Popen(command, env=os.environ | manager.environ)
    try:
        yield process
        process.terminate()
        assert process.wait(GENEROUS_S) == 0
    finally:
        process.kill()


def test_the_engine_alone(manager: Manager, layout: Path) -> None:
    with started(manager, layout, "--part", "engine") as process:
        manager.hears(IS_UP)
        manager.hears(LIVES)
        record = read(path_of(str(layout.with_suffix(".sqlite")), EngineHealth), EngineHealth)
        assert record is not None
        assert record.pid == process.pid  # The manager watches the very process that it started.


def test_the_screen_alone(manager: Manager, layout: Path) -> None:
    port = free_port("127.0.0.1", 0)
    with started(manager, layout, "--part", "screen", "--port", str(port)) as process:
        said = manager.hears(IS_UP) + manager.hears(LIVES)
        assert f"STATUS=Serving http://127.0.0.1:{port}/" in said
        logbook = str(layout.with_suffix(".sqlite"))
        record = read(path_of(logbook, ApplianceHealth), ApplianceHealth)
        assert record is not None
        assert (record.pid, record.screen) == (process.pid, f"http://127.0.0.1:{port}")
    assert "STOPPING=1" in manager.hears("STOPPING=1")


@pytest.mark.parametrize(
    ("part", "kind"), [("courier", CourierHealth), ("gatherer", GathererHealth)]
)
def test_those_of_a_club_alone(
    manager: Manager, layout: Path, part: str, kind: type[CourierHealth | GathererHealth]
) -> None:
    """Their broker is away, which is no reason not to be up."""
    about = 'name = "mill"\nbroker = "127.0.0.1:1"\ncredentials = "mill.credentials"\n'
    secret = layout.parent / "mill.credentials"
    secret.touch(mode=0o600)
    secret.write_text('password = "gorse"\n')
    file, logbook = layout, layout.with_suffix(".sqlite")
    if part == "courier":
        layout.write_text(f"{LAYOUT}[node]\n{about}")
    else:
        file, logbook = layout.parent / "club.toml", layout.parent / "board.sqlite"
        file.write_text(f"[board]\n{about}")
    with started(manager, file, "--part", part) as process:
        manager.hears(IS_UP)
        manager.hears(LIVES)
        record = read(path_of(str(logbook), kind), kind)
        assert record is not None
        assert record.pid == process.pid
        assert record.trouble is not None
    manager.hears("STOPPING=1")
    assert read(path_of(str(logbook), kind), kind) is None  # Its last word does not outlive it.


def test_what_can_not_begin_says_so_and_ends(layout: Path) -> None:
    layout.write_text("[layout", "utf-8")
    command = [*SPURLOCK, "run", str(layout), "--part", "engine"]
    ran = subprocess.run(command, capture_output=True, text=True, check=False)
    assert ran.returncode == 2
    assert ran.stderr.startswith(f"{layout}:1: ")


def test_under_our_own_supervisor_the_screen_says_nothing(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Its word would feed the watchdog that is meant for the engine."""
    monkeypatch.setenv("NOTIFY_SOCKET", "/run/notify")
    monkeypatch.setenv("WATCHDOG_USEC", "1")
    said = {}
    for name, tells in (("engine", True), ("screen", False)):
        out = tmp_path / name
        child = Child(name, ["/bin/sh", "-c", f"env > {out}"], tells=tells)
        child.start()
        assert child.process is not None
        child.process.wait(GENEROUS_S)
        said[name] = out.read_text()
    assert "NOTIFY_SOCKET=/run/notify" in said["engine"]
    assert "NOTIFY_SOCKET" not in said["screen"]
    assert "WATCHDOG_USEC" not in said["screen"]
    assert "PATH=" in said["screen"]


# Waiting longer after each fall.


def lives(folder: Path, *lasted_s: float) -> list[float]:
    """The waits before each start, where each life lasted so long."""
    now_s, waits = 1_000.0, []
    for lasts_s in (*lasted_s, 0.0):
        wait_s = patience_s({"RUNTIME_DIRECTORY": str(folder)}, now_s)
        waits.append(wait_s)
        now_s += wait_s + lasts_s
    return waits


def test_each_short_life_is_waited_for_longer(tmp_path: Path) -> None:
    waits = lives(tmp_path, *[1.0] * 8)
    assert waits == [0.0, *BACK_OFF_S, BACK_OFF_S[-1], BACK_OFF_S[-1]]


def test_a_long_life_makes_good(tmp_path: Path) -> None:
    assert lives(tmp_path, 1.0, 1.0, WELL_AFTER_S + 1, 1.0) == [0.0, 0.5, 1.0, 0.0, 0.5]


def test_a_machine_that_began_anew_has_no_earlier_life(tmp_path: Path) -> None:
    """The monotonic clock begins anew with the machine, and so does what it says."""
    environ = {"RUNTIME_DIRECTORY": str(tmp_path)}
    patience_s(environ, 5_000.0)
    assert patience_s(environ, 10.0) == 0.0


def test_nobody_waits_where_nobody_starts_it_again(tmp_path: Path) -> None:
    assert patience_s({}, 1.0) == patience_s({}, 1.1) == 0.0
    (tmp_path / "starts").write_text("not numbers")
    assert patience_s({"RUNTIME_DIRECTORY": f"{tmp_path}:/run/other"}, 1.0) == 0.0
    assert patience_s({"RUNTIME_DIRECTORY": "/nowhere"}, 1.0) == 0.0


def test_an_engine_that_waits_makes_the_wires_safe_first(
    layout: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    done: list[str] = []

    class Taken:
        def close(self) -> None:
            done.append("made safe")

    def take(taken: Path, *, simulated: bool) -> Taken:
        assert (taken, simulated) == (layout, False)
        return Taken()

    monkeypatch.setattr("firmware_py.engine.wires.take_wires", take)
    monkeypatch.setattr("time.sleep", lambda seconds: done.append(f"waited {seconds:g} s"))
    monkeypatch.setattr("os.execv", lambda *_: done.append("began"))
    appliance = Appliance(layout, "mill.sqlite", simulated=False, host="127.0.0.1", port=8080)
    for _ in range(2):
        become(Part.ENGINE, appliance, {"RUNTIME_DIRECTORY": str(tmp_path)})
    assert done == ["began", "made safe", "waited 0.5 s", "began"]


# The screen's own sign of life.


class Heard:
    """A manager in the same process."""

    def __init__(self, feed_every_s: float | None) -> None:
        self.feed_every_s = feed_every_s
        self.words: list[str] = []

    def tell(self, *words: str) -> bool:
        """Hear it."""
        self.words += words
        return True


class InLine:
    """A loop without threads."""

    def aside(self, work: Callable[[], bool]) -> bool:
        """Do it here."""
        return work()


def test_the_screen_lives_only_while_it_follows() -> None:
    heard, follows = Heard(0.01), [True, True, False, True]
    keep_alive(heard, InLine(), lambda: follows.pop(0), "http://x/")  # type: ignore[arg-type]
    gevent.sleep(0.3)
    assert heard.words == [IS_UP, "STATUS=Serving http://x/", LIVES, LIVES]
    assert follows == [True]


def test_without_a_watchdog_it_is_only_there() -> None:
    heard = Heard(None)
    keep_alive(heard, InLine(), lambda: True, "http://x/")  # type: ignore[arg-type]
    gevent.sleep(0.05)
    assert heard.words == [IS_UP, "STATUS=Serving http://x/"]
