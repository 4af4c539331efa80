"""Runs a module whose wall clock is off: ``python -m tests.club.skewed CLOCK MODULE ARGUMENTS``.

``CLOCK`` is a file with the seconds that it is ahead, read each time that the clock is asked. The
monotonic clock goes on as it is, as it does when somebody sets a real machine's clock.
"""

from __future__ import annotations

import contextlib
import runpy
import sys
import time
from pathlib import Path

_ns = time.time_ns


def skew(clock: Path) -> None:
    """Have ``time.time`` and ``time.time_ns`` tell the time as the file says."""
    last = [0]

    def time_ns() -> int:
        with contextlib.suppress(OSError, ValueError):
            last[0] = int(clock.read_text())
        return _ns() + last[0] * 1_000_000_000

    time.time_ns = time_ns
    time.time = lambda: time_ns() / 1e9


if __name__ == "__main__":
    skew(Path(sys.argv[1]))
    sys.argv = sys.argv[2:]
    runpy.run_module(sys.argv[0], run_name="__main__", alter_sys=True)
