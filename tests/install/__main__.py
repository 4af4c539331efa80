"""``python -m tests.install``: an appliance from real wheels, its upgrades, and its removal.

Wheels of this working copy and its libraries are made, which takes a network; from there on pip
works offline, as on a Pi. In a throw-away root a release is installed and run (on simulated
pins), renewed by a good one and by two broken ones, and removed. The exit status is 1 if anything
came out otherwise.
"""

from __future__ import annotations

import shutil
import subprocess
import sys
import tempfile
from collections.abc import Callable
from datetime import datetime
from functools import partial
from pathlib import Path
from pathlib import PurePosixPath as Place

from firmware_py.install.doing import do
from firmware_py.install.files import File
from firmware_py.install.places import CURRENT, LAYOUT, Box
from firmware_py.install.planning import Wish, installing, removing
from firmware_py.install.proving import Sign, look, prove
from firmware_py.install.record import read
from firmware_py.install.upgrading import Upgrade
from firmware_py.service.starting import free_port
from tests.install.install_machine import LAYOUT as SAMPLE
from tests.install.install_machine import REPOSITORY, Played, Root

HOST = "127.0.0.1"
ENGINE = Path("firmware_py/service/engine_process.py")
BROKEN = {
    "0.1.2": "raise SystemExit('this release does not begin')\n",
    "0.1.3": "import time\ntime.sleep(3600)\n",
}


class OnWheels(Played):
    """A machine whose releases came from pip: the command is run by the release's own Python."""

    __slots__ = ()

    def words_of(self, line: str) -> list[str]:
        """As a unit has it, but under the root and on simulated pins."""
        command, *rest = super().words_of(line)
        simulated = ["--simulated"] if "engine" in rest else []
        return [str(self.at(CURRENT) / "bin" / "python"), command, *rest, *simulated]


def main() -> int:
    """Do all of it."""
    with tempfile.TemporaryDirectory(prefix="spurlock-install-") as name:
        return 0 if all(_checks(Path(name))) else 1


def _checks(folder: Path) -> list[bool]:
    root = Root(folder)
    wheels = _wheels(folder, root)
    machine, box = OnWheels(root.folder), Box(port=free_port(HOST, 0))
    wish = Wish(box, wheels, "0.1.0", SAMPLE.read_text("utf-8"), pin="4711", boot=_boot(root))
    before = {name for name in root.everything() if not name.startswith("proc/")}
    try:
        do(machine, installing(wish))
        seen = partial(look, machine, box)
        found = [_says("installed from wheels, and well", prove(seen) is None)]
        for version, engine in (("0.1.1", ""), *BROKEN.items()):
            _wheel(folder, wheels, version, engine)
            kept = Upgrade(machine, wheels, print, proof=_impatient).run(datetime.now())
            record = read(root.folder)
            runs = record is not None and record.version == "0.1.1"
            said = f"{version} {'kept' if kept else 'taken back'}"
            found.append(_says(said, runs and kept is not bool(engine)))
        installed = read(root.folder)
        assert installed is not None
        do(machine, removing(installed, _boot(root), data=False))
    finally:
        machine.systemctl("stop", "spurlock.target")
    left = {name for name in root.everything() if not name.startswith("proc/")}
    mine = {name for name in left if name.startswith("var/lib/spurlock/")}
    found.append(_says("removed, but for the owner's data", left - mine == before))
    return [*found, _says("the layout is still there", str(LAYOUT)[1:] in mine)]


def _impatient(seen: Callable[[], Sign]) -> str | None:
    return prove(seen, within_s=40.0, stays_s=5.0)


def _boot(root: Root) -> File:
    return File(Place("/boot/firmware/config.txt"), root.read("boot/firmware/config.txt"), 0o755)


def _wheels(folder: Path, root: Root) -> Path:
    for path in root.wheels.iterdir():
        path.unlink()
    _pip("wheel", "--wheel-dir", str(root.wheels), str(REPOSITORY))
    return root.wheels


def _wheel(folder: Path, wheels: Path, version: str, engine: str) -> None:
    """Make a release of another version, whose engine's process is ``engine`` where given."""
    source = folder / f"source-{version}"
    kept = ("firmware_py", "web", "README.md", "pyproject.toml")
    source.mkdir()
    for name in kept:
        copy = shutil.copytree if (REPOSITORY / name).is_dir() else shutil.copy2
        copy(REPOSITORY / name, source / name)
    about = source / "firmware_py" / "__init__.py"
    about.write_text(about.read_text("utf-8").replace('"0.1.0"', f'"{version}"'), "utf-8")
    if engine:
        (source / ENGINE).write_text(engine, "utf-8")
    for old in wheels.glob("spurlock-*.whl"):
        old.unlink()
    _pip("wheel", "--no-deps", "--wheel-dir", str(wheels), str(source))


def _pip(*words: str) -> None:
    subprocess.run([sys.executable, "-m", "pip", "--quiet", *words], check=True)


def _says(what: str, holds: bool) -> bool:
    print(f"{'yes' if holds else 'NO '}  {what}", flush=True)
    return holds


if __name__ == "__main__":
    sys.exit(main())
