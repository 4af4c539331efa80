"""``python -m tests.kernel``: build the test kernel, boot it, run the tests in it, report."""

from __future__ import annotations

import argparse
import sys
from pathlib import Path

from tests.kernel.building import CannotBuildError, build
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
        choices=("build", "tests", "bench", "boot", "all"),
        help="build: only the kernel; bench: contact to lamp against stock gpiozero; "
        "boot: the installed appliance under systemd (tests)",
    )
    parser.add_argument("--results", type=Path, help="a folder for JUnit's file and the console")
    parser.add_argument("--select", metavar="WORDS", help="only these tests (pytest's -k)")
    args = parser.parse_args()
    try:
        built = build(_say)
        if args.what == "build":
            return 0
        well = True
        if args.what != "boot":
            outcome = run_inside(built, args.what, _say, args.results, args.select)
            print(outcome.summary)
            well = outcome.well
        if args.what in {"boot", "all"}:
            from tests.kernel.appliance import boot_installed  # noqa: PLC0415 - needs the project

            stood = boot_installed(built, _say, args.results and args.results / "boot")
            print(stood.summary)
            well = well and stood.failed is None
    except (CannotBuildError, MachineError) as trouble:
        print(f"python -m tests.kernel: {trouble}", file=sys.stderr)
        return 2
    return 0 if well else 1


def _say(text: str) -> None:
    print(text, flush=True)


if __name__ == "__main__":
    sys.exit(main())
