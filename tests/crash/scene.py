"""The processes of one evening: an engine with busy crews, a screen, a page, and a host."""

from __future__ import annotations

import queue
import random
import signal
import subprocess
import sys
import threading
import time
import urllib.error
from collections.abc import Callable
from pathlib import Path

from firmware_py.service.starting import free_port
from tests.crash.listening import Delivered, Listener
from tests.service.signing_in import PIN, SignedIn, give_pin

HOST = "127.0.0.1"
LAYOUT = Path(__file__).with_name("valley.toml")
ROOT = Path(__file__).parents[2]
WORDS = ("ask", "release", "hold", "hand-back", "work-done")
SPURS = ("creamery", "sawmill", "oil-dock", "foundry", "team-track", "brickyard")


class Process:
    """One process that is started again and again, and killed without a word."""

    def __init__(self, command: list[str], said: Path) -> None:
        self._command = command
        self._said = said
        self._running: subprocess.Popen[bytes] | None = None

    def start(self, *more: str) -> None:
        """Start it; what it prints goes to the file ``said``."""
        with self._said.open("ab") as said:
            self._running = subprocess.Popen(
                [*self._command, *more], stdout=said, stderr=said, cwd=ROOT, start_new_session=True
            )

    def kill(self) -> int | None:
        """Kill it with SIGKILL. The answer is how it had ended, if it was not there any more."""
        return self._end(signal.SIGKILL)

    def stop(self) -> int | None:
        """Ask it to stop with SIGTERM and wait until it has."""
        return self._end(signal.SIGTERM)

    @property
    def ended(self) -> bool:
        """Whether it is down, by itself or by a kill."""
        return self._running is None or self._running.poll() is not None

    def _end(self, number: signal.Signals) -> int | None:
        process, self._running = self._running, None
        if process is None:
            return None
        ended = process.poll()
        if ended is None:
            process.send_signal(number)
        process.wait(60)
        return ended


class Host:
    """Asks through the screen, as a page does: acknowledges what comes, and gives orders."""

    def __init__(self, port: int, seed: int) -> None:
        self._browser = SignedIn(f"http://{HOST}:{port}", PIN, timeout_s=2.0)
        self._random = random.Random(seed)
        self._came: queue.SimpleQueue[int] = queue.SimpleQueue()
        self._stop = threading.Event()
        self._thread = threading.Thread(target=self._run, name="host", daemon=True)
        self.asked = 0

    def hear(self, entry: Delivered) -> None:
        """See an entry on the page."""
        if entry.line["what"] == "violation":
            self._came.put(entry.line["number"])

    def start(self) -> None:
        """Begin to ask."""
        self._thread.start()

    def stop(self) -> None:
        """Ask no more."""
        self._stop.set()
        self._thread.join(10)

    def _run(self) -> None:
        while not self._stop.wait(self._random.uniform(0.02, 0.15)):
            try:
                number = self._came.get_nowait()
            except queue.Empty:
                spur = self._random.choice(SPURS)
                self._ask({"command": self._random.choice(WORDS), "spur": spur})
            else:
                self._ask({"command": "acknowledge", "violation": number, "note": "seen"})

    def _ask(self, body: dict[str, object]) -> None:
        try:
            with self._browser.post("/api/orders", body):
                self.asked += 1
        except (urllib.error.URLError, OSError):
            pass  # Screen or engine are down, or the answer was no.


class Scene:
    """An evening's folder and its processes. ``pace`` is the crews' haste."""

    def __init__(self, folder: Path, seed: int, pace: float) -> None:
        self.folder = folder
        self.logbook = folder / "logbook.sqlite"
        give_pin(self.logbook)
        self.port = free_port(HOST, 0)
        self._random = random.Random(seed)
        self._pace = pace
        module = [sys.executable, "-m"]
        about = ["--layout", str(LAYOUT), "--logbook", str(self.logbook), "--simulated"]
        self.engine = Process([*module, "tests.crash.busy_engine", *about], folder / "engine.out")
        about = ["--logbook", str(self.logbook), "--host", HOST, "--port", str(self.port)]
        self.screen = Process([*module, "web", *about], folder / "screen.out")
        self.host = Host(self.port, seed)
        self.page = Listener(self.port, hear=self.host.hear)

    def open(self) -> None:
        """Start the screen, the page and the host."""
        self.screen.start()
        self.page.start()
        self.host.start()

    def start_engine(self, *, crews: bool) -> None:
        """Start the engine; with crews, they do other jobs each time."""
        seed = str(self._random.randrange(1_000_000))
        crew = ("--crew", "--pace", str(self._pace)) if crews else ()
        self.engine.start("--seed", seed, *crew)

    def close(self) -> None:
        """End everything that was started."""
        self.host.stop()
        self.engine.kill()
        self.screen.kill()
        self.page.stop()


def until(limit_s: float, what: Callable[[], object]) -> bool:
    """Wait until ``what()`` is true, at most ``limit_s``."""
    end_s = time.monotonic() + limit_s
    while not what():
        if time.monotonic() > end_s:
            return False
        time.sleep(0.02)
    return True
