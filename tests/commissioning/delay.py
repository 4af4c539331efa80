"""``python -m tests.commissioning.delay [MOVES]``: from a contact's edge to the page's stream.

A line is typed at a sitting on simulated pins, and the page's events are waited for. Beside it, in
the same run, what one plain request to the same screen takes; the ratio is what counts, since
the machine may be busy. Nothing here fails.
"""

from __future__ import annotations

import argparse
import json
import statistics
import sys
import tempfile
import time
import urllib.request
from collections.abc import Iterator
from pathlib import Path
from typing import Any

sys.path.insert(0, str(Path(__file__).parents[1]))

from commissioning.phones import HASP, Sat, sitting

OTHER = "kiln-switch.normal"


def views(sat: Sat) -> Iterator[dict[str, Any]]:
    """What the page's stream brings."""
    direct = urllib.request.build_opener(urllib.request.ProxyHandler({}))
    with direct.open(f"{sat.address}/api/commission/events", timeout=60) as stream:
        for line in stream:
            if line.startswith(b'data: {"word"'):
                yield json.loads(line.removeprefix(b"data: "))


def main() -> int:
    """Measure."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("moves", nargs="?", type=int, default=40)
    moves = parser.parse_args().moves
    with tempfile.TemporaryDirectory() as folder, sitting(Path(folder)) as sat:
        sat.do()
        sat.at("make", HASP)
        taken, plain = [], []
        stream = views(sat)
        next(stream)
        for at in range(moves):
            time.sleep(0.3)
            began = time.monotonic()
            sat.type(f"{'make' if at % 2 == 0 else 'break'} {OTHER}")
            while next(stream)["sitting"]["shown"]["levels"].get(OTHER) is not (at % 2 == 0):
                pass
            taken.append(time.monotonic() - began)
            began = time.monotonic()
            sat.get("/health")
            plain.append(time.monotonic() - began)
    for what, times in (("an edge to the stream", taken), ("a plain request", plain)):
        worst, median = 1000 * max(times), 1000 * statistics.median(times)
        print(f"{what}: median {median:.0f} ms, worst {worst:.0f} ms of {moves}")
    print(f"ratio of the medians: {statistics.median(taken) / statistics.median(plain):.1f}")
    return 0


if __name__ == "__main__":
    sys.exit(main())
