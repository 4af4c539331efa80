"""A boot of the installed appliance under systemd: health, kills, hangs, and a reboot.

The files are those that ``spurlock install`` writes, made by its own plan; only a release's own
environment is this machine's, since to unpack one under emulation would take longer than all else.
What happens inside is ``inside/standing.py``'s to do and to judge.
"""

from __future__ import annotations

import json
import shutil
import subprocess
import sys
import sysconfig
import tempfile
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

from firmware_py.install.doing import do
from firmware_py.install.machine import Machine
from firmware_py.install.places import CURRENT, DATA, LAYOUT, Box
from firmware_py.install.planning import Wish, installing
from tests.kernel.building import Built
from tests.kernel.machine import MachineError, command, run

ROOT = Path(__file__).resolve().parents[2]
WITHIN_S = 1500.0
DISK_MB = 64
SYSTEMD = "/lib/systemd/systemd"
TEST = Path("/opt/spurlock-test")
TARGET = "spurlock-boot.target"
STANDING = "spurlock-standing.service"
WIRES = """
[[switch]]
id = "mill-switch"
contacts = { hasp = 5, normal = 6, reverse = 13 }
lamps = { green = 20, red = 21 }
"""
UNITS = {
    TARGET: "[Unit]\nWants=spurlock.target spurlock-standing.service\nAllowIsolate=yes\n",
    STANDING: f"""\
[Unit]
After=basic.target
[Service]
Environment=PYTHONDONTWRITEBYTECODE=1 PYTHONUNBUFFERED=1
WorkingDirectory={TEST}/project
ExecStart={CURRENT}/bin/python -m tests.kernel.inside.standing
StandardOutput=tty
StandardError=tty
TTYPath=/dev/console
""",
}
UDEV = 'SUBSYSTEM=="gpio", KERNEL=="gpiochip*", GROUP="gpio", MODE="0660"\n'
"""As the rules of Raspberry Pi OS have it (from memory)."""
UNWANTED = (
    *("systemd-timesyncd", "systemd-binfmt", "systemd-random-seed", "systemd-hwdb-update"),
    *("systemd-machine-id-commit", "systemd-firstboot", "ldconfig", "systemd-modules-load"),
    *("systemd-sysctl", "systemd-remount-fs", "systemd-udev-settle", "modprobe@"),
    *("systemd-tmpfiles-setup", "systemd-tmpfiles-setup-dev", "systemd-tmpfiles-clean"),
    *("systemd-journal-flush", "systemd-update-utmp", "systemd-pstore", "systemd-resolved"),
)
"""What a machine of this kind does without."""


@dataclass(frozen=True, slots=True)
class Stood:
    """What it stood, in words, and what went wrong, if anything did."""

    passed: list[str]
    failed: str | None

    @property
    def summary(self) -> str:
        """In a few lines."""
        told = "".join(f"\n  {what}" for what in self.passed)
        wrong = f"\n  NOT: {self.failed}" if self.failed else ""
        return f"under systemd, on the test kernel:{told}{wrong}"


def has_systemd() -> bool:
    """Whether this machine has a systemd that the other one can boot."""
    return Path(SYSTEMD).exists() and shutil.which("systemd-sysusers") is not None


def boot_installed(built: Built, say: Callable[[str], None], results: Path | None = None) -> Stood:
    """Boot it, and read what it stood. Errors: ``MachineError``."""
    if not has_systemd():
        raise MachineError("there is no systemd here; as root: apt-get install systemd")
    with tempfile.TemporaryDirectory(prefix="spurlock-boot-") as name:
        folder = Path(name)
        folder.chmod(0o755)
        _install(folder / "root")
        disk = folder / "disk"
        _disk(disk, folder / "root" / str(DATA).lstrip("/"))
        told = {
            "SPURLOCK_INIT": SYSTEMD,
            "SPURLOCK_PROJECT": str(ROOT),
            "SPURLOCK_BASE": sys.base_prefix,
            "SPURLOCK_SITE": sysconfig.get_path("purelib"),
            "SPURLOCK_TARGET": TARGET,
            "systemd.log_target": "console",
        }
        drive = ("-drive", f"file={disk},format=raw,if=virtio,cache=unsafe")
        line = command(built.image, folder, told, *drive)
        line.remove("-no-reboot")
        try:
            run(line, say, WITHIN_S)
        finally:
            if results is not None:
                (folder / "disk").unlink(missing_ok=True)
                shutil.copytree(folder, results, dirs_exist_ok=True, symlinks=True)
        return _stood(folder)


def _install(root: Path) -> None:
    """What an installation writes, under a root folder of its own."""
    layout = root / "layout.toml"
    root.mkdir()
    layout.write_text(WIRES)
    wish = Wish(Box(), ROOT, "0", WIRES)
    machine = Machine(root)
    do(machine, installing(wish), builder=_environment)
    for name, text in UNITS.items():
        (root / "etc/systemd/system" / name).write_text(text)
    for name in UNWANTED:
        (root / "etc/systemd/system" / f"{name}.service").symlink_to("/dev/null")
    rules = root / "etc/udev/rules.d"
    rules.mkdir(parents=True)
    (rules / "60-gpio.rules").write_text(UDEV)
    # The machine has no hardware watchdog; to ask for one would only fill its log.
    shutil.rmtree(root / "etc/systemd/system.conf.d", ignore_errors=True)
    assert (root / str(LAYOUT).lstrip("/")).exists()


def _environment(_machine: Machine, release: Path, _wheels: Path) -> None:
    """A release whose libraries and project are those of this machine."""
    version = f"python{sys.version_info.major}.{sys.version_info.minor}"
    site = release / "lib" / version / "site-packages"
    site.mkdir(parents=True)
    (site / "here.pth").write_text(f"{TEST}/project\n{TEST}/site\n")
    binaries = release / "bin"
    binaries.mkdir()
    (binaries / "python3").symlink_to(f"{TEST}/python/bin/{version}")
    (binaries / "python").symlink_to("python3")
    (release / "pyvenv.cfg").write_text(f"home = {TEST}/python/bin\n")
    script = binaries / "spurlock"
    script.write_text(
        f"#!{CURRENT}/bin/python\nimport sys\n"
        "from firmware_py.commands.main import main\nsys.exit(main())\n"
    )
    script.chmod(0o755)


def _disk(disk: Path, content: Path) -> None:
    """A disk with the owner's folder on it, which outlasts a reboot."""
    make = ["mke2fs", "-q", "-F", "-t", "ext4", "-d", str(content), str(disk), f"{DISK_MB}M"]
    subprocess.run(make, check=True)


def _stood(folder: Path) -> Stood:
    try:
        found = json.loads((folder / "stood.json").read_text())
    except (OSError, ValueError) as error:
        raise MachineError(f"the machine left no result ({error})") from error
    return Stood(found["passed"], found["failed"])
