"""systemd's own judgement of the units: that they are sound, and how much they could harm.

The measure is ``systemd-analyze security``'s exposure level, 0 to 10; at most 3.0 is asked for.
"""

from __future__ import annotations

import os
import re
import shutil
import subprocess
from pathlib import Path

import pytest

from firmware_py.install.files import File, autostart, files, wall_screen
from firmware_py.install.places import ALL_UNITS, ENGINE_UNIT, SCREEN_UNIT, UNITS, Box
from firmware_py.install.units import engine, screen, units

LARGEST_EXPOSURE = 3.0
SYSTEM_UNITS = Path("/usr/lib/systemd/system")
BOXES = {
    "alone": Box(),
    "phones-and-chips": Box("0.0.0.0", 8090, ("i2c", "spi"), wall_screen=True),
    "ipv6": Box("::", 8080),
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


def put(root: Path, file: File) -> None:
    path = root / file.path.relative_to("/")
    path.parent.mkdir(parents=True, exist_ok=True)
    path.write_text(file.text)


def analysed(root: Path, *words: str) -> subprocess.CompletedProcess[str]:
    command = ["systemd-analyze", f"--root={root}", *words]
    return subprocess.run(command, capture_output=True, text=True, check=False)


@needs_systemd
def test_systemd_finds_nothing_to_complain_of(root: Path) -> None:
    ran = analysed(root, "verify", "--man=no", *ALL_UNITS)
    assert (ran.returncode, ran.stdout, ran.stderr) == (0, "", "")


@needs_systemd
def test_systemd_would_find_a_fault(root: Path) -> None:
    unit = root / "etc/systemd/system" / ENGINE_UNIT
    unit.write_text(unit.read_text().replace("MemoryMax=160M", "MemoryMost=160M"))
    ran = analysed(root, "verify", "--man=no", ENGINE_UNIT)
    assert "MemoryMost" in ran.stderr


@needs_systemd
@pytest.mark.parametrize("name", [ENGINE_UNIT, SCREEN_UNIT])
def test_little_harm_could_come_of_a_unit(root: Path, name: str) -> None:
    ran = analysed(root, "security", "--offline=true", name)
    found = re.search(rf"Overall exposure level for {name}: ([\d.]+)", ran.stdout)
    assert found is not None, ran.stdout + ran.stderr
    assert float(found[1]) <= LARGEST_EXPOSURE


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


def test_the_wall_screen_is_a_sound_script(tmp_path: Path) -> None:
    script = tmp_path / "wall-screen"
    script.write_text(wall_screen(Box(port=8090)))
    assert subprocess.run(["sh", "-n", str(script)], check=False).returncode == 0
    assert "board=http://127.0.0.1:8090/\n" in script.read_text()
    assert "Exec=/opt/spurlock/wall-screen\n" in autostart()
