"""The wheelhouse: a folder with Spurlock and all its libraries, for a Pi without a network.

Only command lines are made here. pip evaluates markers such as ``sys_platform`` for the computer
that it runs on, so that should be one with Linux.
"""

from __future__ import annotations

import sys
from pathlib import Path

PYTHONS = ("3.11", "3.13")
"""Those of the 64-bit Raspberry Pi OS: Debian 12's and Debian 13's."""
_GLIBC = (17, 24, 26, 27, 28, 31, 34, 36)
"""Which of the C library's versions a wheel may ask for; Debian 12 has 2.36."""
PLATFORMS = (*(f"manylinux_2_{minor}_aarch64" for minor in _GLIBC), "manylinux2014_aarch64")


def for_arm(python: str) -> list[str]:
    """Pip's options that have it choose wheels for 64-bit ARM and this Python, and no sources."""
    options = ["--only-binary=:all:", "--implementation", "cp", "--python-version", python]
    for platform in PLATFORMS:
        options += ["--platform", platform]
    return options


def building(folder: Path, source: Path) -> list[str]:
    """The command that makes Spurlock's own wheel from its source."""
    return [*_pip(), "wheel", "--no-deps", "--wheel-dir", str(folder), str(source)]


def fetching(folder: Path, python: str) -> list[str]:
    """The command that fetches the libraries of the wheel in the folder."""
    wheels = ["--find-links", str(folder), "--dest", str(folder)]
    return [*_pip(), "download", *for_arm(python), *wheels, "spurlock"]


def resolving(python: str, requirements: list[str], report: Path) -> list[str]:
    """The command that only finds out which wheels would be taken, and says so in ``report``."""
    nowhere = ["--dry-run", "--ignore-installed", "--target", str(report.parent / "nowhere")]
    return [*_pip(), "install", *nowhere, *for_arm(python), "--report", str(report), *requirements]


def _pip() -> list[str]:
    return [sys.executable, "-m", "pip", "--disable-pip-version-check", "--quiet"]
