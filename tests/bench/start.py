"""From ``spurlock run`` to lamps lit, against importing gpiozero and SQLAlchemy alone.

Two moments: red is lit, which is the first thing that lamps show and means "not proven safe"; and
the first lamps by the rules, on a layout whose contacts need no time to settle. Wall time, in
turn with the baseline, since much of it is two processes at once.
"""

from __future__ import annotations

import os
import socket
import statistics
import subprocess
import sys
import tempfile
import time
from dataclasses import dataclass
from pathlib import Path

ROUNDS = 7
SEEN = Path(__file__).parent / "start_seen"
BARE = "import gpiozero, sqlalchemy"
GENEROUS_S = 60.0
LAYOUT = """
[times]
settle = 0.0
clear_after = 0.0

[[switch]]
id = "mill-switch"
contacts = { hasp = 5, normal = 6, reverse = 13, detector = 19 }
lamps = { green = 20, red = 21, white = 16 }
bolt = 12

[[spur]]
id = "mill"
switch = "mill-switch"
contacts = { detector = 26 }
"""


@dataclass(frozen=True, slots=True)
class Start:
    """Medians in seconds: until red is lit, until lamps show the rules, and the baseline."""

    red: float
    guarding: float
    baseline: float


def measure(rounds: int = ROUNDS) -> Start:
    """Start and stop an appliance again and again, in turn with the baseline."""
    times: tuple[list[float], list[float], list[float]] = ([], [], [])
    with tempfile.TemporaryDirectory(prefix="spurlock-start-") as name:
        folder = Path(name)
        (folder / "mill.toml").write_text(LAYOUT, "utf-8")
        _bare(), _started(folder)  # Once for the disk's sake, and to make the logbook.
        for _ in range(rounds):
            for place, seconds in enumerate((*_started(folder), _bare())):
                times[place].append(seconds)
    return Start(*(statistics.median(each) for each in times))


def _bare() -> float:
    began = time.monotonic()
    subprocess.run([sys.executable, "-c", BARE], check=True)
    return time.monotonic() - began


def _started(folder: Path) -> tuple[float, float]:
    seen, address = folder / "seen", folder / "notify"
    address.unlink(missing_ok=True)
    with socket.socket(socket.AF_UNIX, socket.SOCK_DGRAM) as manager:
        manager.bind(str(address))
        manager.settimeout(GENEROUS_S)
        path = os.pathsep.join(filter(None, (str(SEEN), os.environ.get("PYTHONPATH"))))
        more = {"PYTHONPATH": path, "SPURLOCK_SEEN": str(seen), "NOTIFY_SOCKET": str(address)}
        command = [sys.executable, "-m", "firmware_py.commands.main", "run"]
        command += [str(folder / "mill.toml"), "--simulated", "--port", "0"]
        began = time.monotonic()
        process = subprocess.Popen(command, env=os.environ | more, stdout=subprocess.DEVNULL)
        try:
            while b"READY=1" not in manager.recv(4_096):
                pass
            guarding = time.monotonic()
        finally:
            process.terminate()
            process.wait(GENEROUS_S)
    return float(seen.read_text("ascii")) - began, guarding - began


def report() -> None:
    """Print the figures."""
    start = measure()
    print(
        f"start: importing gpiozero and SQLAlchemy {start.baseline * 1e3:.0f} ms; "
        f"from spurlock run to red lit {start.red * 1e3:.0f} ms "
        f"({start.red / start.baseline:.2f} times), to lamps by the rules "
        f"{start.guarding * 1e3:.0f} ms ({start.guarding / start.baseline:.2f} times)"
    )


if __name__ == "__main__":
    report()
