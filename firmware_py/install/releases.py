"""Releases: each an environment of its own, made from a folder of wheels without a network."""

from __future__ import annotations

import re
import shutil
import sys
from pathlib import Path

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
            f"spurlock=={version_in(wheels)}",
        )
    except BaseException:
        shutil.rmtree(release, ignore_errors=True)
        raise


def _python() -> str:
    """The Python under any environment that this may be running in, which may be gone tomorrow."""
    return getattr(sys, "_base_executable", None) or sys.executable


def _names(folder: Path) -> list[str]:
    try:
        return sorted(path.name for path in folder.iterdir())
    except OSError:
        return []
