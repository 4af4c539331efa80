"""Watchers of the board in a process of their own: ``python -m ... PORT COUNT``."""

from __future__ import annotations

import socket
import sys
import time

from tests.watchers.crowd import Crowd

WITHIN_S = 240.0


def main() -> None:
    """Watch until the standard input ends; says ``ready`` once all have their first state."""
    port, count = int(sys.argv[1]), int(sys.argv[2])
    end_s = time.monotonic() + WITHIN_S
    while not _listens(port):
        if time.monotonic() > end_s:
            raise TimeoutError(f"nobody listens at port {port}")
        time.sleep(0.2)
    crowd = Crowd(port, count)
    crowd.settle()
    print("ready", flush=True)
    sys.stdin.read()
    crowd.leave()


def _listens(port: int) -> bool:
    with socket.socket() as probe:
        return probe.connect_ex(("127.0.0.1", port)) == 0


if __name__ == "__main__":
    main()
