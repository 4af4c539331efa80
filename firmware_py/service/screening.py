"""The screen alone, kept running beside a command that has the pins itself."""

from __future__ import annotations

import time
from collections.abc import Callable, Sequence

from firmware_py.service.supervisor import Child, look_up_what_a_child_calls


class Screen:
    """Started at once; ``tend`` starts it again if it fell, and ``stop`` ends it."""

    def __init__(self, command: Sequence[str], say: Callable[[str], None]) -> None:
        look_up_what_a_child_calls()
        self._child = Child("screen", command)
        self._say = say
        self._child.start()

    def tend(self) -> None:
        """Look after it; to be called now and then, which costs next to nothing."""
        now_s = time.monotonic()
        process = self._child.process
        if process is None:
            if now_s >= self._child.again_at_s:
                self._child.start()
        elif process.poll() is not None:
            wait_s = self._child.fell(now_s)
            self._say(f"The screen stopped; it starts again in {wait_s:g} s.")

    def stop(self) -> None:
        """End it."""
        self._child.stop()
