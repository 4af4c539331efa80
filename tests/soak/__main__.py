"""``python -m tests.soak MINUTES [--pace 50]``: the demo under load, and whether it stays flat.

Prints a line every ten seconds and the figures at the end. The exit status is 1 if memory, the
queue or the log grew beyond what ``verdict.py`` allows, 2 if the demo would not run.
"""

from __future__ import annotations

import argparse
import contextlib
import signal
import sqlite3
import subprocess
import sys
import tempfile
import time
import urllib.error
from collections.abc import Iterator, Sequence
from pathlib import Path

from firmware_py.service.starting import free_port
from tests.crash.listening import Delivered, Listener
from tests.service.signing_in import PIN, SignedIn, give_pin
from tests.soak.sampling import Delays, Sample, children, log_bytes, resident_kib
from tests.soak.sizes import Size, sizes
from tests.soak.verdict import faults, growths

PAGES = 3
LOOK_S = 10.0
HOST = "127.0.0.1"
DEMO = "import sys; from firmware_py.commands.main import main; sys.exit(main())"


class Host:
    """Acknowledges every violation as it comes, as a host at the first page would."""

    def __init__(self, port: int, delays: Delays) -> None:
        self._browser = SignedIn(f"http://{HOST}:{port}", PIN, timeout_s=5.0)
        self._delays = delays
        self.acknowledged = self.refused = 0

    def hear(self, entry: Delivered) -> None:
        """Take an entry."""
        self._delays.hear(entry)
        if entry.line["what"] != "violation":
            return
        body = {"command": "acknowledge", "violation": entry.line["number"]}
        try:
            with self._browser.post("/api/orders", body):
                self.acknowledged += 1
        except (urllib.error.URLError, TimeoutError):
            self.refused += 1


def main(arguments: Sequence[str] | None = None) -> int:
    """Run the soak."""
    parser = argparse.ArgumentParser(prog="python -m tests.soak", description=__doc__)
    parser.add_argument("minutes", type=float)
    parser.add_argument("--pace", type=float, default=50.0)
    parser.add_argument("--seed", type=int, default=1)
    args = parser.parse_args(arguments)
    with tempfile.TemporaryDirectory(prefix="spurlock-soak-") as name:
        return soak(Path(name), args.minutes, args.pace, args.seed)


def soak(folder: Path, minutes: float, pace: float, seed: int) -> int:
    """Run the demo in ``folder``, look, and judge."""
    port = free_port(HOST, 0)
    logbook = folder / "logbook.sqlite"
    give_pin(logbook)
    delays = Delays()
    host = Host(port, delays)
    pages = [Listener(port, keep=False, hear=host.hear)]
    pages += [Listener(port, keep=False, hear=delays.hear) for _ in range(PAGES - 1)]
    with demo(folder, port, pace, seed) as process:
        for page in pages:
            page.start()
        samples = watch(process, logbook, delays, minutes)
        for page in pages:
            page.stop()
    if samples is None or any(page.garbled for page in pages):
        print("the demo, its engine or its screen went down, or a stream was garbled")
        return 2
    with contextlib.closing(sqlite3.connect(logbook)) as database:
        return report(samples, sizes(database), database, host, [page.count for page in pages])


@contextlib.contextmanager
def demo(folder: Path, port: int, pace: float, seed: int) -> Iterator[subprocess.Popen[bytes]]:
    """The demo as a tree of processes, stopped with Ctrl-C's signal at the end."""
    words = ["demo", "--pace", str(pace), "--seed", str(seed)]
    words += ["--folder", str(folder), "--port", str(port)]
    process = subprocess.Popen([sys.executable, "-c", DEMO, *words])
    try:
        yield process
    finally:
        process.send_signal(signal.SIGINT)
        process.wait(60)


def watch(
    process: subprocess.Popen[bytes], logbook: Path, delays: Delays, minutes: float
) -> list[Sample] | None:
    """Look every ten seconds; ``None`` if a process ended, or was replaced by another."""
    began = time.monotonic()
    found: dict[str, int] = {}
    while len(found) < 2 and time.monotonic() - began < 30:
        time.sleep(0.2)
        found = children(process.pid)
    samples: list[Sample] = []
    while (at_s := time.monotonic() - began) < minutes * 60:
        time.sleep(LOOK_S)
        at_s = time.monotonic() - began
        if process.poll() is not None or len(found) < 2 or children(process.pid) != found:
            return None
        memory = resident_kib(found["engine"]), resident_kib(found["screen"])
        sample = Sample(at_s, *memory, log_bytes(logbook), delays.take())
        samples.append(sample)
        print(_says(sample), flush=True)
    return samples


def _says(sample: Sample) -> str:
    engine, screen = sample.engine_kib / 1024, sample.screen_kib / 1024
    worst_ms = max(sample.late_s, default=0.0) * 1000
    return (
        f"{sample.at_s:6.0f} s  engine {engine:6.1f} MiB  screen {screen:6.1f} MiB  "
        f"log {sample.log_bytes / 2**20:7.2f} MiB  "
        f"delay {sample.middle_late_s * 1000:5.0f} ms, at most {worst_ms:5.0f} ms  "
        f"entries to pages {len(sample.late_s)}"
    )


def report(
    samples: Sequence[Sample],
    found: Sequence[Size],
    database: sqlite3.Connection,
    host: Host,
    counts: Sequence[int],
) -> int:
    """Print the figures; answers the exit status."""
    lasted_s = samples[-1].at_s
    engine, screen, delay = growths(samples)
    print(f"\n{lasted_s / 60:.1f} minutes, {len(samples)} looks, {len(counts)} pages")
    print(engine.says("MiB"))
    print(screen.says("MiB"))
    print(delay.says("ms"))
    worst = max(max(sample.late_s, default=0.0) for sample in samples)
    print(f"longest delay of any entry: {worst * 1000:.0f} ms")
    for size in found:
        each = max(size.rows, 1)
        print(
            f"{size.table}: {size.rows} rows, {size.rows / lasted_s:.1f}/s; "
            f"{size.measured / each:.1f} bytes each, {size.reckoned / each:.1f} reckoned "
            f"({size.measured / max(size.reckoned, 1) - 1:+.1%})"
        )
    violations = database.execute("SELECT count(*) FROM violation").fetchone()[0]
    print(
        f"violations: {violations}; acknowledged {host.acknowledged}, refused {host.refused}; "
        f"entries that reached each page: {', '.join(map(str, counts))}"
    )
    wrong = faults(samples, found)
    for fault in wrong:
        print(f"NOT FLAT: {fault}")
    if not wrong:
        print("flat")
    return 1 if wrong else 0


if __name__ == "__main__":
    sys.exit(main())
