"""Real mounts for real trouble; where this user may not mount, the test is skipped and says so."""

from __future__ import annotations

import os
import subprocess
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import pytest


def _mount(*words: str) -> None:
    done = subprocess.run(["mount", *words], capture_output=True, text=True, check=False)
    if done.returncode != 0:
        why = f"mounting is not allowed here: {done.stderr.strip()}"
        if os.environ.get("CI") and os.geteuid() == 0:
            pytest.fail(why)
        pytest.skip(why)


@contextmanager
def small_disk(at: Path, kilobytes: int) -> Iterator[Path]:
    """A disk of its own with so much room."""
    at.mkdir()
    _mount("-t", "tmpfs", "-o", f"size={kilobytes}k", "none", str(at))
    try:
        yield at
    finally:
        subprocess.run(["umount", "-l", str(at)], check=True)


@contextmanager
def read_only(at: Path) -> Iterator[None]:
    """For a while, the same folder by a mount that can only be read."""
    _mount("--bind", str(at), str(at))
    try:
        _mount("-o", "remount,bind,ro", str(at))
        yield
    finally:
        subprocess.run(["umount", "-l", str(at)], check=True)
