"""What the soak measures while it runs: memory of processes, the log's growth, the delay."""

from __future__ import annotations

import threading
from dataclasses import dataclass
from pathlib import Path
from statistics import median

from tests.crash.listening import Delivered

ENGINE = "firmware_py.service.engine_process"
SCREEN = "web"


@dataclass(frozen=True, slots=True)
class Sample:
    """One look. Memory in KiB of resident set, ``log_bytes`` of the database and its WAL.

    ``late_s`` are the delays of the entries that reached a page since the last look: from the
    engine's thread through the keeper's queue, its commit and the screen. A queue that grows
    makes them grow.
    """

    at_s: float
    engine_kib: int
    screen_kib: int
    log_bytes: int
    late_s: tuple[float, ...]

    @property
    def middle_late_s(self) -> float:
        """The middle delay; 0 where nothing came."""
        return median(self.late_s) if self.late_s else 0.0


class Delays:
    """Collects delays between two looks, from any thread."""

    def __init__(self) -> None:
        self._lock = threading.Lock()
        self._late_s: list[float] = []

    def hear(self, entry: Delivered) -> None:
        """Take an entry."""
        with self._lock:
            self._late_s.append(entry.late_s)

    def take(self) -> tuple[float, ...]:
        """What was collected since the last call."""
        with self._lock:
            taken, self._late_s = self._late_s, []
        return tuple(taken)


def children(parent: int) -> dict[str, int]:
    """The process ids of the engine and the screen under a supervisor, as far as they are there."""
    found: dict[str, int] = {}
    for folder in Path("/proc").iterdir():
        if not folder.name.isdigit():
            continue
        try:
            words = (folder / "cmdline").read_bytes().decode(errors="replace").split("\0")
            status = (folder / "status").read_text()
        except OSError:
            continue  # It ended while we looked.
        if f"\nPPid:\t{parent}\n" in status:
            for name, module in (("engine", ENGINE), ("screen", SCREEN)):
                if words[1:3] == ["-m", module]:
                    found[name] = int(folder.name)
    return found


def resident_kib(pid: int) -> int:
    """A process's resident set in KiB. Raises ``OSError`` once it is gone."""
    for line in Path(f"/proc/{pid}/status").read_text().splitlines():
        if line.startswith("VmRSS:"):
            return int(line.split()[1])
    raise ProcessLookupError(f"process {pid} has ended")


def log_bytes(logbook: Path) -> int:
    """The size of the database with its WAL."""
    files = (logbook, logbook.with_name(logbook.name + "-wal"))
    return sum(file.stat().st_size for file in files if file.exists())
