"""systemd's own judgement of the units: that they are sound, and how much they could harm.

The measure is ``systemd-analyze security``'s exposure level, 0 to 10; at most 3.0 is asked for.
"""

from __future__ import annotations

import os
import re
import shutil
import subprocess
import sys
from http.server import BaseHTTPRequestHandler, HTTPServer
from pathlib import Path

import pytest

from firmware_py.install.files import File, autostart, files, wall_screen
from firmware_py.install.places import (
    COURIER_UNIT,
    CURRENT,
    ENGINE_UNIT,
    GATHERER_UNIT,
    SCREEN_UNIT,
    TARGET_UNIT,
    UNITS,
    Box,
    Club,
)
from firmware_py.install.units import courier, engine, screen, units
from firmware_py.service.starting import free_port

HOST = "127.0.0.1"
GENEROUS_S = 60.0
LARGEST_EXPOSURE = 3.0
SYSTEM_UNITS = Path("/usr/lib/systemd/system")
BOXES = {
    "alone": Box(),
    "phones-and-chips": Box("0.0.0.0", 8090, ("i2c", "spi"), wall_screen=True),
    "ipv6": Box("::", 8080),
    "club": Box(club=Club("broker.local", "west.credentials")),
    "board": Box("0.0.0.0", 8080, club=Club("10.0.0.5", "b.credentials"), logbook="board.sqlite"),
}

needs_systemd = pytest.mark.skipif(
    shutil.which("systemd-analyze") is None and "CI" not in os.environ,
    reason="systemd-analyze is not there",
)


@pytest.fixture(params=BOXES.values(), ids=BOXES)
def root(request: pytest.FixtureRequest, tmp_path: Path) -> Path:
    """A root with the units in it, the system's own, and something to start."""
    shutil.copytree(SYSTEM_UNITS, tmp_path / "usr/lib/systemd/system", symlinks=True)
    for name, text in units(request.param).items():
        put(tmp_path, File(UNITS / name, text))
    command = tmp_path / "opt/spurlock/current/bin/spurlock"
    command.parent.mkdir(parents=True)
    command.write_text("#!/bin/sh\n")
    command.chmod(0o755)
    return tmp_path


def services(root: Path) -> list[str]:
    """The services of ours that are under the root."""
    return sorted(path.name for path in (root / "etc/systemd/system").glob("spurlock-*.service"))


def put(root: Path, file: File) -> None:
    path = root / file.path.relative_to("/")
    path.parent.mkdir(parents=True, exist_ok=True)
    path.write_text(file.text)


def analysed(root: Path, *words: str) -> subprocess.CompletedProcess[str]:
    command = ["systemd-analyze", f"--root={root}", *words]
    return subprocess.run(command, capture_output=True, text=True, check=False)


@needs_systemd
def test_systemd_finds_nothing_to_complain_of(root: Path) -> None:
    ran = analysed(root, "verify", "--man=no", *services(root), TARGET_UNIT)
    assert (ran.returncode, ran.stdout, ran.stderr) == (0, "", "")


@needs_systemd
def test_systemd_would_find_a_fault(root: Path) -> None:
    name = services(root)[0]
    unit = root / "etc/systemd/system" / name
    unit.write_text(unit.read_text().replace("MemoryMax=", "MemoryMost="))
    ran = analysed(root, "verify", "--man=no", name)
    assert "MemoryMost" in ran.stderr


@needs_systemd
def test_little_harm_could_come_of_a_unit(root: Path) -> None:
    for name in services(root):
        ran = analysed(root, "security", "--offline=true", name)
        found = re.search(rf"Overall exposure level for {name}: ([\d.]+)", ran.stdout)
        assert found is not None, ran.stdout + ran.stderr
        assert float(found[1]) <= LARGEST_EXPOSURE, name


def test_a_box_of_a_club_has_a_courier_and_a_board_host_a_gatherer() -> None:
    assert list(units(BOXES["alone"])) == [ENGINE_UNIT, SCREEN_UNIT, TARGET_UNIT]
    club, board = BOXES["club"], BOXES["board"]
    assert list(units(club)) == [ENGINE_UNIT, SCREEN_UNIT, COURIER_UNIT, TARGET_UNIT]
    assert list(units(board)) == [GATHERER_UNIT, SCREEN_UNIT, TARGET_UNIT]
    assert f"Wants={ENGINE_UNIT} {SCREEN_UNIT} {COURIER_UNIT}\n" in units(club)[TARGET_UNIT]
    assert "DeviceAllow=" not in units(club)[COURIER_UNIT]


def test_only_who_speaks_to_the_broker_sees_its_password() -> None:
    hidden = "InaccessiblePaths=-/var/lib/spurlock/west.credentials\n"
    written = units(BOXES["club"])
    assert [name for name in written if hidden in written[name]] == [ENGINE_UNIT, SCREEN_UNIT]
    assert "InaccessiblePaths" not in "".join(units(BOXES["alone"]).values())


@pytest.mark.parametrize(
    ("host", "reached"),
    [
        ("127.0.0.1", "localhost"),
        ("10.0.0.5", "localhost 10.0.0.5"),
        ("broker.local", "localhost 10.0.0.0/8 172.16.0.0/12 192.168.0.0/16 fc00::/7 link-local"),
    ],
)
def test_a_courier_reaches_its_broker_and_nobody_farther_off(host: str, reached: str) -> None:
    assert f"IPAddressAllow={reached}\n" in courier(Club(host, "west.credentials"))


def test_the_engine_may_use_the_chips_that_the_layout_names_and_no_other_device() -> None:
    assert "char-i2c" not in engine(Box())
    assert "SupplementaryGroups=gpio\n" in engine(Box())
    text = engine(Box(buses=("i2c",)))
    assert "SupplementaryGroups=gpio i2c\n" in text
    assert "DeviceAllow=char-i2c rw\n" in text
    assert "char-spi" not in text


@pytest.mark.parametrize(
    ("host", "answered"),
    [
        ("127.0.0.1", "localhost"),
        ("localhost", "localhost"),
        ("::1", "localhost"),
        ("0.0.0.0", "localhost 10.0.0.0/8 172.16.0.0/12 192.168.0.0/16 fc00::/7 link-local"),
        ("pi.local", "localhost 10.0.0.0/8 172.16.0.0/12 192.168.0.0/16 fc00::/7 link-local"),
    ],
)
def test_the_screen_answers_the_home_alone(host: str, answered: str) -> None:
    assert f"IPAddressAllow={answered}\n" in screen(Box(host=host))


def test_each_file_has_a_place_of_its_own_and_ends_its_last_line() -> None:
    for box in BOXES.values():
        written = files(box)
        assert len({file.path for file in written}) == len(written)
        assert all(file.text.endswith("\n") for file in written)


def test_the_wall_screen_waits_for_the_board_and_fills_the_display_with_it(tmp_path: Path) -> None:
    """With a Chromium of our own, which says what it was started with."""
    script, browser, port = tmp_path / "wall-screen", tmp_path / "chromium", free_port(HOST, 0)
    text = wall_screen(Box(port=port))
    script.write_text(text.replace(f"{CURRENT}/bin/python", sys.executable))
    browser.write_text('#!/bin/sh\nfor word; do echo "$word"; done\n')
    browser.chmod(0o755)
    environ = os.environ | {"PATH": f"{tmp_path}:{os.environ['PATH']}", "XDG_RUNTIME_DIR": "/run/u"}
    command = ["sh", str(script)]
    with subprocess.Popen(command, env=environ, stdout=subprocess.PIPE, text=True) as waiting:
        with HTTPServer((HOST, port), BaseHTTPRequestHandler) as board:
            board.timeout = GENEROUS_S
            board.RequestHandlerClass = Board
            board.handle_request()
        said, _ = waiting.communicate(timeout=GENEROUS_S)
    assert said.splitlines()[-1] == f"http://127.0.0.1:{port}/"
    assert "--kiosk" in said.splitlines()
    assert "--user-data-dir=/run/u/spurlock-wall-screen" in said.splitlines()
    assert "Exec=/opt/spurlock/wall-screen\n" in autostart()


class Board(BaseHTTPRequestHandler):
    """A board that is there."""

    def do_GET(self) -> None:
        self.send_response(200)
        self.end_headers()

    def log_message(self, *_: object) -> None:
        """Say nothing."""
