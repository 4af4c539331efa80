"""A throw-away root, and a service manager of our own that runs in it what the units say."""

from __future__ import annotations

import os
import shlex
import subprocess
import sys
import sysconfig
from pathlib import Path
from pathlib import PurePosixPath as Place
from typing import ClassVar

from firmware_py.install.doing import Builder
from firmware_py.install.errors import InstallError
from firmware_py.install.machine import Machine
from firmware_py.install.places import SOFTWARE, TARGET_UNIT, UNITS

REPOSITORY = Path(__file__).parents[2]
LAYOUT = REPOSITORY / "tests" / "tapes" / "quarry-landing.toml"

SPURLOCK = """\
#!{python}
import sys
from firmware_py.commands.main import main
sys.exit(main([*sys.argv[1:], "--simulated"] if "run" in sys.argv else None))
"""
DEAF = "#!{python}\nraise SystemExit('the new one does not begin')\n"
CHANGES_LOGBOOK = """\
#!{python}
import sqlite3, sys
from pathlib import Path
with sqlite3.connect(Path(sys.argv[2]).with_suffix(".sqlite")) as logbook:
    logbook.execute("UPDATE alembic_version SET version_num = '9999'")
"""


class Root:
    """A folder with what an installation looks at on a Pi."""

    def __init__(self, folder: Path) -> None:
        self.folder = folder / "root"
        self.put("proc/device-tree/model", "Raspberry Pi 4 Model B Rev 1.4\0")
        self.put("boot/firmware/config.txt", "# For more options see the documentation\n[pi4]\n")
        self.wheels = folder / "wheels"
        self.wheels.mkdir()
        self.offer("0.1.0")

    def put(self, place: str, text: str) -> Path:
        """Write a file."""
        path = self.folder / place
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_text(text)
        return path

    def read(self, place: str | Place) -> str:
        """Read a file."""
        return (self.folder / str(place).lstrip("/")).read_text()

    def has(self, place: str | Place) -> bool:
        """Whether something is there."""
        return os.path.lexists(self.folder / str(place).lstrip("/"))

    def offer(self, version: str) -> None:
        """Have the folder of wheels hold this version of Spurlock."""
        for old in self.wheels.iterdir():
            old.unlink()
        (self.wheels / f"spurlock-{version}-py3-none-any.whl").touch()

    def everything(self) -> dict[str, bytes | str]:
        """Every file and link, with what it holds or leads to."""
        found: dict[str, bytes | str] = {}
        for path in sorted(self.folder.rglob("*")):
            name = str(path.relative_to(self.folder))
            if path.is_symlink():
                found[name] = str(path.readlink())
            elif path.is_file():
                found[name] = path.read_bytes()
        return found


def builder(script: str = SPURLOCK, *, runs: bool = True) -> Builder:
    """Makes releases that run this working copy, without pip; ``script`` is their command."""

    def build(machine: Machine, release: Path, _wheels: Path) -> None:
        if release.exists():
            raise InstallError(f"{release}: there is such a folder already")
        command = [sys.executable, "-m", "venv", "--without-pip", str(release)]
        subprocess.run(command, check=True)
        packages = next(release.glob("lib/python3*/site-packages"))
        paths = (REPOSITORY, sysconfig.get_paths()["purelib"]) if runs else ()
        (packages / "ours.pth").write_text("".join(f"{path}\n" for path in paths))
        python = machine.at(Place("/opt/spurlock/current/bin/python"))
        command_file = release / "bin" / "spurlock"
        command_file.write_text(script.format(python=python))
        command_file.chmod(0o755)

    return build


class Played(Machine):
    """A machine under a throw-away root whose service manager is this: it really runs units."""

    __slots__ = ()
    running: ClassVar[list[subprocess.Popen[bytes]]] = []
    asked: ClassVar[list[str]] = []

    @property
    def live(self) -> bool:
        """As if it were the running system."""
        return True

    def make_users(self, file: Place) -> None:
        """Nobody is made: the tests' own user runs all of it."""
        assert self.at(file).exists()

    def own(self, path: Path) -> None:
        """It is ours already."""
        assert path.exists()

    def systemctl(self, *words: str) -> None:
        """Start or stop what the units say."""
        self.asked.append(" ".join(words))
        if words[0] in ("start", "stop"):
            assert words[1] == TARGET_UNIT
            self._stop()
        if words[0] == "start":
            for name in self.wanted():
                self.running.append(self._started(name))

    def wanted(self) -> list[str]:
        """The services that the target starts."""
        text = self.at(UNITS / TARGET_UNIT).read_text()
        line = next(x for x in text.splitlines() if x.startswith("Wants="))
        return line.removeprefix("Wants=").split()

    def words_of(self, line: str) -> list[str]:
        """A unit's command, as it is under the root."""
        return [
            str(self.at(Place(word))) if word.startswith(("/opt", "/var")) else word
            for word in shlex.split(line)
        ]

    def _started(self, unit: str) -> subprocess.Popen[bytes]:
        text = self.at(UNITS / unit).read_text()
        line = next(x for x in text.splitlines() if x.startswith("ExecStart="))
        words = self.words_of(line.removeprefix("ExecStart="))
        with self.at(SOFTWARE / f"{unit}.said").open("ab") as said:
            return subprocess.Popen(words, stdout=said, stderr=said, cwd=self.root)

    def _stop(self) -> None:
        for process in self.running:
            process.terminate()
        for process in self.running:
            process.wait(30)
        self.running.clear()
