"""Programs of the system that a trial starts, and ends again."""

from __future__ import annotations

import contextlib
import os
import shutil
import signal
import socket
import subprocess
import time
from collections.abc import Callable, Sequence
from pathlib import Path

STARTS_WITHIN_S = 30.0
ENDS_WITHIN_S = 20.0


class TrialError(Exception):
    """A program of the system can't be used; the text says why and what would be right."""


def free_port() -> int:
    """A port of this machine that nobody listens at just now."""
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        return int(probe.getsockname()[1])


def found(name: str, *folders: str) -> Path | None:
    """A program of the system, in these folders or where it usually is: some are in no path."""
    path = os.pathsep.join([*folders, os.environ.get("PATH", ""), "/usr/sbin"])
    where = shutil.which(name, path=path)
    return Path(where) if where else None


class Program:
    """One program; its words go to ``log``. As root, it runs as ``user`` where one is given."""

    def __init__(self, command: Sequence[str], log: Path, user: str | None = None) -> None:
        self._command = list(command)
        self._log = log
        self._user = user
        self._process: subprocess.Popen[bytes] | None = None

    @property
    def pid(self) -> int:
        """Its process."""
        assert self._process is not None, "it was started"
        return self._process.pid

    @property
    def runs(self) -> bool:
        """Whether it was started and has not ended."""
        return self._process is not None and self._process.poll() is None

    @property
    def said(self) -> str:
        """What it has written so far."""
        return self._log.read_text(errors="replace") if self._log.exists() else ""

    def start(self, ready: Callable[[], bool]) -> None:
        """Start it, and wait until it is ready. Raises :class:`TrialError`."""
        with self._log.open("ab") as log:
            self._process = subprocess.Popen(
                self._command,
                stdout=log,
                stderr=log,
                user=as_root(self._user),
                group=as_root(self._user),
                extra_groups=() if as_root(self._user) else None,
            )
        end_s = time.monotonic() + STARTS_WITHIN_S
        while not ready():
            if self._process.poll() is not None or time.monotonic() > end_s:
                self.stop(signal.SIGKILL)
                raise TrialError(f"{self._command[0]} did not start: {self.said[-800:]}")
            time.sleep(0.02)

    def stop(self, number: int = signal.SIGTERM) -> None:
        """End it with a signal, and with force if it takes too long."""
        process, self._process = self._process, None
        if process is None:
            return
        with contextlib.suppress(ProcessLookupError):
            process.send_signal(number)
        try:
            process.wait(ENDS_WITHIN_S)
        except subprocess.TimeoutExpired:
            process.kill()
            process.wait()


def as_root(user: str | None) -> str | None:
    """The user to run as, which only root can choose; ``None`` for whoever this is."""
    return user if os.geteuid() == 0 else None


def listens(host: str, port: int) -> bool:
    """Whether somebody listens there."""
    try:
        with socket.create_connection((host, port), 1.0):
            return True
    except OSError:
        return False
