"""Releases: each an environment of its own, made from a folder of wheels without a network."""

from __future__ import annotations

import re
import shutil
import sys
from pathlib import Path
from pathlib import PurePosixPath as Place

from firmware_py.install.errors import InstallError
from firmware_py.install.machine import Machine

_WHEEL = re.compile(r"spurlock-(?P<version>[^-]+)-py3-none-any\.whl")


def version_in(wheels: Path) -> str:
    """The version of Spurlock in a folder of wheels. Raises ``InstallError``: none, or several."""
    found = [match["version"] for path in _names(wheels) if (match := _WHEEL.fullmatch(path))]
    if len(found) == 1:
        return found[0]
    if found:
        several = ", ".join(sorted(found))
        raise InstallError(f"{wheels}: it has Spurlock {several}; keep the one that is wanted")
    make = "make one on a computer with a network: spurlock wheels FOLDER"
    raise InstallError(f"{wheels}: this is no folder with Spurlock's wheels; {make}")


def has_spi(wheels: Path) -> bool:
    """Whether the folder has the library that chips on SPI need, and no others."""
    return any(name.startswith("spidev-") and name.endswith(".whl") for name in _names(wheels))


def has_psycopg(wheels: Path) -> bool:
    """Whether the folder has the library that a board on PostgreSQL needs, and no others."""
    return any(name.startswith("psycopg-") and name.endswith(".whl") for name in _names(wheels))


def build(machine: Machine, release: Path, wheels: Path) -> None:
    """Make a release in a folder that must not exist yet; all of it, or nothing.

    The Python that runs this becomes the release's own. Raises ``InstallError``.
    """
    if release.exists():
        raise InstallError(f"{release}: there is such a folder already; remove it")
    try:
        machine.run(_python(), "-m", "venv", str(release))
        machine.run(
            str(release / "bin" / "python"),
            "-m",
            "pip",
            "install",
            "--quiet",
            "--disable-pip-version-check",
            "--no-index",
            "--no-cache-dir",
            "--find-links",
            str(wheels.resolve()),
            f"spurlock{_extras(wheels)}=={version_in(wheels)}",
        )
        _start_in_place(release, Place("/") / release.relative_to(machine.root))
    except BaseException:
        shutil.rmtree(release, ignore_errors=True)
        raise


def _extras(wheels: Path) -> str:
    found = {"spi": has_spi(wheels), "postgresql": has_psycopg(wheels)}
    named = ",".join(name for name, there in found.items() if there)
    return f"[{named}]" if named else ""


def _start_in_place(release: Path, place: Place) -> None:
    """Have the command name the Python of its own machine, whatever that is mounted on now."""
    command = release / "bin" / "spurlock"
    shebang, rest = command.read_text("utf-8").split("\n", 1)
    command.write_text(f"#!{place / 'bin' / 'python'}\n{rest}", "utf-8")
    assert shebang.startswith("#!"), "pip writes a script"


def _python() -> str:
    """The Python under any environment that this may be running in, which may be gone tomorrow."""
    return getattr(sys, "_base_executable", None) or sys.executable


def _names(folder: Path) -> list[str]:
    try:
        return sorted(path.name for path in folder.iterdir())
    except OSError:
        return []
