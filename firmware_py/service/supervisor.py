"""Two processes, engine and screen, each of which can die and come back without the other.

This process opens no pin and no database: it only starts, watches and stops the two, so that
there is little in it that could fail.
"""

from __future__ import annotations

import ctypes
import signal
import subprocess
import sys
import time
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from types import FrameType

from firmware_py.service.notifying import Notifier

BACK_OFF_S = (0.5, 1.0, 2.0, 5.0, 10.0, 30.0)
WELL_AFTER_S = 60.0
"""A process that ran this long was well; its next fall is its first again."""
STOP_WITHIN_S = 8.0
LOOK_EVERY_S = 0.1
UNREADABLE = 2
_PR_SET_PDEATHSIG = 1


@dataclass(slots=True)
class Child:
    """One process: what it is called, how it is started, and how it fares."""

    name: str
    command: Sequence[str]
    process: subprocess.Popen[bytes] | None = None
    falls: int = 0
    began_s: float = 0.0
    again_at_s: float = 0.0
    starts: int = field(default=0)

    def start(self) -> None:
        """Start it."""
        self.process = subprocess.Popen(
            self.command,
            start_new_session=True,
            preexec_fn=_die_with_parent,  # noqa: PLW1509 - this process starts no thread
        )
        self.began_s = time.monotonic()
        self.starts += 1

    def fell(self, now_s: float) -> float:
        """Note that it fell; answers how long to wait before it is started again."""
        self.process = None
        self.falls = 1 if now_s - self.began_s > WELL_AFTER_S else self.falls + 1
        wait_s = BACK_OFF_S[min(self.falls, len(BACK_OFF_S)) - 1]
        self.again_at_s = now_s + wait_s
        return wait_s

    def stop(self) -> None:
        """Ask it to stop, and insist if it doesn't."""
        if self.process is None:
            return
        self.process.terminate()
        try:
            self.process.wait(STOP_WITHIN_S)
        except subprocess.TimeoutExpired:
            self.process.kill()
            self.process.wait()


class Supervisor:
    """Keeps the engine and the screen running until told to stop.

    ``say`` is told what happens, in one line each, and ``notifier`` tells the service manager.
    """

    def __init__(
        self,
        engine: Sequence[str],
        screen: Sequence[str],
        say: Callable[[str], None],
        notifier: Notifier | None = None,
    ) -> None:
        self.engine = Child("engine", engine)
        self.screen = Child("screen", screen)
        self._say = say
        self._notifier = notifier or Notifier()
        self._told = False  # No threading.Event: its lock is not for signal handlers.

    def run(self) -> int:
        """Serve until SIGINT, SIGTERM, or the engine's own good end; answers the exit status."""
        for number in (signal.SIGINT, signal.SIGTERM):
            signal.signal(number, self._tell)
        try:
            self.engine.start()
            self.screen.start()
            return self._watch()
        finally:
            self._notifier.tell("STOPPING=1", "STATUS=Stopping")
            # The engine first: bolts and power are its to make safe.
            self.engine.stop()
            self.screen.stop()

    def _tell(self, _signal: int, _frame: FrameType | None) -> None:
        self._told = True

    def _watch(self) -> int:
        while not self._told:
            time.sleep(LOOK_EVERY_S)
            for child in (self.engine, self.screen):
                status = self._look(child)
                if status is not None:
                    return status
        return 0

    def _look(self, child: Child) -> int | None:
        now_s = time.monotonic()
        if child.process is None:
            if now_s >= child.again_at_s:
                child.start()
            return None
        status = child.process.poll()
        if status is None:
            return None
        if child is self.engine and status in (0, UNREADABLE) and child.starts == 1:
            return status  # It ended by itself, or said why it can't begin.
        if child is self.engine and status == 0:
            return 0
        wait_s = child.fell(now_s)
        text = f"The {child.name} stopped ({_how(status)}); it starts again in {wait_s:g} s."
        self._say(text)
        self._notifier.tell(f"STATUS={text}")
        return None


def _how(status: int) -> str:
    if status < 0:
        return f"signal {signal.Signals(-status).name}"
    return f"exit status {status}"


def _die_with_parent() -> None:
    # Linux only: a supervisor that is killed must not leave an engine behind that nobody watches.
    if sys.platform == "linux":
        ctypes.CDLL(None).prctl(_PR_SET_PDEATHSIG, signal.SIGTERM)
