"""``python -m tests.kernel``: build the test kernel, boot it, run the tests in it, report."""

from __future__ import annotations

import argparse
import sys
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from functools import partial
from pathlib import Path

from tests.kernel.building import Built, CannotBuildError, build
from tests.kernel.building import built as find
from tests.kernel.machine import MachineError
from tests.kernel.session import run_inside

DESCRIPTION = """\
The appliance on a real Linux kernel: GPIO chips and an I2C bus whose lines the
tests pull by hand. Builds a small kernel (once; kept in the cache folder), boots
it under QEMU with this machine's own files, and runs the tests in it.
"""


def main() -> int:
    """Do what was asked; 0 if all passed, 1 if a test failed, 2 if it could not be tried."""
    parser = argparse.ArgumentParser(
        prog="python -m tests.kernel",
        description=DESCRIPTION,
        formatter_class=argparse.RawDescriptionHelpFormatter,
    )
    parser.add_argument(
        "what",
        nargs="?",
        default="tests",
        choices=("build", "cached", "tests", "bench", "boot", "all"),
        help="build: only the kernel; cached: whether there is one; "
        "bench: contact to lamp against stock gpiozero; "
        "boot: the installed appliance under systemd; all: tests and boot, side by side (tests)",
    )
    parser.add_argument("--results", type=Path, help="a folder for JUnit's file and the console")
    parser.add_argument("--select", metavar="WORDS", help="only these tests (pytest's -k)")
    args = parser.parse_args()
    if args.what == "cached":
        return 0 if find() is not None else 1
    try:
        built = build(_say)
        if args.what == "build":
            return 0
        summaries = _run(built, args)
    except (CannotBuildError, MachineError) as trouble:
        print(f"python -m tests.kernel: {trouble}", file=sys.stderr)
        return 2
    for _, summary in summaries:
        print(summary)
    return 0 if all(well for well, _ in summaries) else 1


def _run(built: Built, args: argparse.Namespace) -> list[tuple[bool, str]]:
    """Whether each part went well, with what it has to say; the two machines run side by side.

    Both wait for most of their time, for tapes to pass or watchdogs to bite.
    """
    parts: list[Callable[[], tuple[bool, str]]] = []
    if args.what != "boot":
        what = "bench" if args.what == "bench" else "tests"
        parts.append(partial(_inside, built, what, args))
    if args.what in {"boot", "all"}:
        parts.append(partial(_installed, built, args.results))
    with ThreadPoolExecutor(len(parts)) as machines:
        running = [machines.submit(part) for part in parts]
        return [one.result() for one in running]


def _inside(built: Built, what: str, args: argparse.Namespace) -> tuple[bool, str]:
    outcome = run_inside(built, what, _say, args.results, args.select)
    return outcome.well, outcome.summary


def _installed(built: Built, results: Path | None) -> tuple[bool, str]:
    from tests.kernel.appliance import boot_installed  # noqa: PLC0415 - "build" goes without it

    def say(text: str) -> None:
        _say(f"[systemd] {text}")

    stood = boot_installed(built, say, results and results / "boot")
    return stood.failed is None, stood.summary


def _say(text: str) -> None:
    print(text, flush=True)


if __name__ == "__main__":
    sys.exit(main())
