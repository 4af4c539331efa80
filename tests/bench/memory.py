"""``python -m tests.bench.memory [MINUTES]``: memory of engine and screen against their libraries.

The demo runs with its scripted crews at 20 times human pace, three pages open, for so many
minutes (3: an hour of human work). Resident set then, against a fresh Python that has imported
the same libraries and nothing of Spurlock's.
"""

from __future__ import annotations

import argparse
import subprocess
import sys
import tempfile
import time
from collections.abc import Sequence
from pathlib import Path

from firmware_py.service.starting import free_port
from tests.crash.listening import Listener
from tests.service.signing_in import give_pin
from tests.soak.__main__ import HOST, demo
from tests.soak.sampling import children, resident_kib

PACE = 20.0
PAGES = 3
MOST_MIB = {"engine": 60.0, "screen": 110.0}
MOST_TIMES = 1.3
IMPORTED = {"engine": "firmware_py.service.engine_process, firmware_py.engine.assembly"}
IMPORTED["screen"] = "web.serve"

ALONE = """
import importlib, sys
for name in sys.argv[1:]:
    importlib.import_module(name)
print(open("/proc/self/status").read().split("VmRSS:")[1].split()[0])
"""
NAMES = """
import sys
{imports}
import importlib.util
for name, module in list(sys.modules.items()):
    if getattr(module, "__spec__", None) and not name.startswith(("firmware_py", "web", "__")):
        print(name)
"""


def libraries_kib(part: str) -> int:
    """Resident set of a Python that has imported what ``part`` imports, but for Spurlock's own."""
    code = NAMES.format(imports=f"import {IMPORTED[part]}")
    names = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    alone = [sys.executable, "-c", ALONE, *names.stdout.split()]
    return int(subprocess.run(alone, capture_output=True, text=True, check=True).stdout)


def measure(minutes: float) -> dict[str, int]:
    """Resident set of engine and screen, in KiB, after so many minutes of the demo."""
    with tempfile.TemporaryDirectory(prefix="spurlock-memory-") as name:
        folder, port = Path(name), free_port(HOST, 0)
        give_pin(folder / "logbook.sqlite")
        pages = [Listener(port, keep=False) for _ in range(PAGES)]
        with demo(folder, port, PACE, 1) as process:
            for page in pages:
                page.start()
            time.sleep(minutes * 60)
            found = {part: resident_kib(pid) for part, pid in children(process.pid).items()}
            for page in pages:
                page.stop()
    return found


def main(arguments: Sequence[str] | None = None) -> int:
    """Print the figures; 1 if one is beyond what is meant."""
    parser = argparse.ArgumentParser(prog="python -m tests.bench.memory", description=__doc__)
    parser.add_argument("minutes", type=float, nargs="?", default=3.0)
    taken = measure(parser.parse_args(arguments).minutes)
    status = 0
    for part, kib in sorted(taken.items()):
        bare = libraries_kib(part)
        beyond = kib / 1024 > MOST_MIB[part] or kib / bare > MOST_TIMES
        status = 1 if beyond else status
        print(
            f"{part}: {kib / 1024:.1f} MiB resident; its libraries alone {bare / 1024:.1f} MiB "
            f"({kib / bare:.2f} times; at most {MOST_MIB[part]:.0f} MiB and {MOST_TIMES} times)"
        )
    return status


if __name__ == "__main__":
    sys.exit(main())
