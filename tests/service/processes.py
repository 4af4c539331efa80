"""The appliance as processes: started as its user starts it, and looked at from outside.

Nothing is asserted about how long anything takes: waiting ends when what is waited for is there,
or after a minute in which it never came.
"""

from __future__ import annotations

import contextlib
import json
import os
import signal
import socket
import subprocess
import sys
import time
import urllib.request
from collections.abc import Callable, Iterator, Sequence
from pathlib import Path
from typing import Any, TypeVar

from service.signing_in import SignedIn, pin_said

GENEROUS_S = 60.0
SPURLOCK = (sys.executable, "-m", "firmware_py.commands.main")
ENGINE, SCREEN = "firmware_py.service.engine_process", "web"

T = TypeVar("T")


def until(what: Callable[[], T], why: str = "it never came to pass") -> T:
    """Wait until something is so, and give it."""
    end_s = time.monotonic() + GENEROUS_S
    while not (found := what()):
        assert time.monotonic() < end_s, why
        time.sleep(0.05)
    return found


def free_port() -> int:
    """A port that nobody listens at just now."""
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        return int(probe.getsockname()[1])


def alive(pid: int) -> bool:
    """Whether a process runs; one that has ended and was not fetched yet doesn't."""
    try:
        stat = Path(f"/proc/{pid}/stat").read_text()
    except (FileNotFoundError, ProcessLookupError):
        return False
    return stat.rpartition(")")[2].split()[0] not in {"Z", "X"}


def children_of(parent: int) -> Iterator[tuple[int, list[str]]]:
    """The running children of a process, each with its command line."""
    for folder in Path("/proc").iterdir():
        if not folder.name.isdigit():
            continue
        with contextlib.suppress(FileNotFoundError, ProcessLookupError):
            stat = (folder / "stat").read_text().rpartition(")")[2].split()
            if int(stat[1]) == parent and stat[0] not in {"Z", "X"}:
                yield int(folder.name), (folder / "cmdline").read_text().split("\0")


class Running:
    """A ``spurlock`` command that runs; ``said`` is what it has written so far."""

    def __init__(
        self,
        arguments: Sequence[str],
        folder: Path,
        port: int,
        spurlock: Sequence[str] = SPURLOCK,
        stdin: int | None = None,
    ) -> None:
        self.port = port
        self._log = folder / f"spurlock-{port}.log"
        self._host: SignedIn | None = None
        if signal.getsignal(signal.SIGINT) is signal.SIG_IGN:
            # Tests in the background of a shell: what they start would ignore Ctrl-C as well.
            signal.signal(signal.SIGINT, signal.default_int_handler)
        with self._log.open("w") as log:
            self.process = subprocess.Popen(
                [*spurlock, *arguments, "--port", str(port)],
                stdin=stdin,
                stdout=log,
                stderr=subprocess.STDOUT,
                env=os.environ | {"PYTHONUNBUFFERED": "1"},
            )

    @property
    def said(self) -> str:
        return self._log.read_text()

    @property
    def address(self) -> str:
        return f"http://127.0.0.1:{self.port}"

    def child(self, module: str) -> int | None:
        """The process that runs a module for it."""
        return next((pid for pid, line in children_of(self.process.pid) if module in line), None)

    def engine(self) -> int:
        return self._child(ENGINE)

    def screen(self) -> int:
        return self._child(SCREEN)

    def _child(self, module: str) -> int:
        found = until(lambda: self.child(module), f"{module} does not run: {self.said}")
        assert found is not None
        return found

    def kill(self, pid: int) -> None:
        """End one of its children without a warning."""
        assert pid in {child for child, _ in children_of(self.process.pid)}
        os.kill(pid, signal.SIGKILL)

    def get(self, path: str) -> Any:  # noqa: ANN401 - it is whatever JSON there is
        """What its screen answers, or ``None`` where nothing does."""
        direct = urllib.request.build_opener(urllib.request.ProxyHandler({}))
        return _read(lambda: direct.open(self.address + path, timeout=10))

    def post(self, path: str, body: object) -> Any:  # noqa: ANN401 - it is whatever JSON there is
        """What its screen answers to something that the host asks of it, or ``None``."""
        return _read(lambda: self.host().post(path, body))

    @property
    def pin(self) -> str:
        """The host's PIN: what the demo has printed, or what the tests set."""
        return pin_said(self.said)

    def host(self) -> SignedIn:
        """A browser that gives the host's PIN: the demo's own, or the one that tests set."""
        self._host = self._host or SignedIn(self.address, self.pin)
        return self._host

    def live(self) -> bool:
        """Whether the screen sees an engine that guards."""
        state = self.get("/api/state")
        return bool(state and state["head"]["live"] and state["head"]["session"])

    def guards(self) -> None:
        """Wait until it does."""
        until(self.live, f"it never came to guard: {self.said}")

    def hand(self, contact: str, made: bool | None) -> None:
        """Move a contact by the bench's own way."""
        assert self.post("/api/hands", {"contact": contact, "made": made}), self.said

    def stop(self, number: int = signal.SIGINT) -> int:
        """Tell it to stop; its exit status."""
        if self.process.poll() is None:
            self.process.send_signal(number)
        try:
            return self.process.wait(GENEROUS_S)
        except subprocess.TimeoutExpired:
            self.process.kill()
            self.process.wait()
            raise AssertionError(f"it did not stop: {self.said}") from None


def _read(ask: Callable[[], Any]) -> Any:  # noqa: ANN401 - it is whatever JSON there is
    try:
        with ask() as answer:
            return json.load(answer)
    except OSError:
        return None


@contextlib.contextmanager
def running(arguments: Sequence[str], folder: Path) -> Iterator[Running]:
    """A ``spurlock`` command that runs and guards, and is stopped in the end."""
    spurlock = Running(arguments, folder, free_port())
    try:
        spurlock.guards()
        yield spurlock
    finally:
        spurlock.stop()
