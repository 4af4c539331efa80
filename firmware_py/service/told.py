"""A process of its own that goes on until it is told to stop."""

from __future__ import annotations

import signal
from collections.abc import Callable
from types import FrameType


def listen_for_stop() -> Callable[[], bool]:
    """Take SIGTERM and SIGINT from now on; the answer says whether one of them has come."""
    told = False

    def stop(_signal: int, _frame: FrameType | None) -> None:
        nonlocal told
        told = True

    for number in (signal.SIGTERM, signal.SIGINT):
        signal.signal(number, stop)
    return lambda: told
