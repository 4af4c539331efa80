"""A storm of edges from a process of its own, so that the engine's is not slowed by making them.

``python storm.py FOLDER EDGES SECONDS LINE...`` pulls the lines of a pretended chip in turn, so
that all of the edges take ``SECONDS`` if the machine can, and prints how long they took.
"""

from __future__ import annotations

import os
import sys
import time


def main() -> None:
    """Make the storm; each line ends as it began, if its share of the edges is even."""
    folder, edges, seconds = sys.argv[1], int(sys.argv[2]), float(sys.argv[3])
    pulls = [os.open(f"{folder}/sim_gpio{line}/pull", os.O_WRONLY) for line in sys.argv[4:]]
    words = (b"pull-down", b"pull-up")
    began = time.monotonic()
    for edge in range(edges):
        due = began + seconds * edge / edges
        while time.monotonic() < due:
            pass
        os.pwrite(pulls[edge % len(pulls)], words[edge // len(pulls) % 2], 0)
    print(time.monotonic() - began)


if __name__ == "__main__":
    main()
