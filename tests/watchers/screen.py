"""The screen as a process of its own, and what the kernel says of it."""

from __future__ import annotations

import json
import os
import re
import signal
import subprocess
import sys
import time
import urllib.request
from pathlib import Path
from typing import Any

ROOT = Path(__file__).resolve().parents[2]
STOP_WITHIN_S = 30.0


class ScreenProcess:
    """The screen, and what the kernel says of it."""

    def __init__(self, logbook: Path) -> None:
        command = [sys.executable, "-m", "web", "--logbook", str(logbook)]
        self._child = subprocess.Popen(
            [*command, "--port", "0"], cwd=ROOT, stdout=subprocess.PIPE, text=True
        )
        assert self._child.stdout is not None
        said = re.search(r":(\d+)/", self._child.stdout.readline())
        if said is None:
            raise RuntimeError("the screen did not say where it listens")
        self.port = int(said[1])

    def health(self) -> dict[str, Any]:
        """What it says of itself."""
        with urllib.request.urlopen(f"http://127.0.0.1:{self.port}/health") as answer:
            said: dict[str, Any] = json.load(answer)
            return said

    def memory_mb(self) -> float:
        """What it holds in memory now."""
        text = Path(f"/proc/{self._child.pid}/status").read_text()
        return int(text.split("VmRSS:")[1].split()[0]) / 1024

    def threads(self) -> int:
        """How many threads it has."""
        return len(list(Path(f"/proc/{self._child.pid}/task").iterdir()))

    def files(self) -> int:
        """How many files and connections it has open."""
        return len(list(Path(f"/proc/{self._child.pid}/fd").iterdir()))

    def cpu_s(self) -> float:
        """Processor time that it has used so far."""
        fields = Path(f"/proc/{self._child.pid}/stat").read_text().rsplit(")", 1)[1].split()
        return (int(fields[11]) + int(fields[12])) / os.sysconf("SC_CLK_TCK")

    def empty(self) -> float:
        """Wait until it has noticed that nobody watches any more; the seconds it took."""
        began = time.monotonic()
        while time.monotonic() < began + STOP_WITHIN_S:
            if self.health()["streams"] == 0:
                break
            time.sleep(0.1)
        return time.monotonic() - began

    def stop(self) -> float:
        """Tell it to stop; the seconds it took."""
        began = time.monotonic()
        self._child.send_signal(signal.SIGTERM)
        if self._child.wait(STOP_WITHIN_S) != 0:
            raise RuntimeError(f"the screen ended with {self._child.returncode}")
        return time.monotonic() - began

    def kill(self) -> None:
        """End it whatever it does."""
        self._child.kill()
        self._child.wait()
        assert self._child.stdout is not None
        self._child.stdout.close()
