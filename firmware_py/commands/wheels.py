"""``spurlock wheels``: a folder with all that a Pi without a network needs."""

from __future__ import annotations

import argparse
import subprocess
import sys
from pathlib import Path
from typing import TYPE_CHECKING

from firmware_py.install.wheelhouse import PYTHONS, building, fetching

if TYPE_CHECKING:
    Subparsers = argparse._SubParsersAction[argparse.ArgumentParser]

UNREADABLE = 2

DESCRIPTION = """\
On a computer with a network: fill a folder with Spurlock and every library it
needs, as wheels for the Pi's 64-bit ARM. Carry the folder to the Pi on a stick;
there, "spurlock install" and "spurlock upgrade" need no network.

Run it in the folder of Spurlock's source, on Linux.
"""

EXAMPLES = """\
examples:
  spurlock wheels stick/wheels                  for Raspberry Pi OS of Debian 12
  spurlock wheels stick/wheels --python 3.13    for that of Debian 13
"""


def add_parser(subparsers: Subparsers) -> None:
    """Add the command to the console script's parser."""
    parser = subparsers.add_parser(
        "wheels",
        help="fill a folder with all that a Pi without a network needs",
        description=DESCRIPTION,
        epilog=EXAMPLES,
        formatter_class=argparse.RawDescriptionHelpFormatter,
    )
    parser.add_argument("folder", metavar="FOLDER", type=Path, help="where the wheels go")
    parser.add_argument(
        "--python", choices=PYTHONS, default=PYTHONS[0], help=f"the Pi's Python ({PYTHONS[0]})"
    )
    parser.add_argument(
        "--source", metavar="DIR", type=Path, default=Path(), help="Spurlock's source (this folder)"
    )
    parser.set_defaults(run=run)


def run(args: argparse.Namespace) -> int:
    """Run the command; the answer is the exit status."""
    if not (args.source / "pyproject.toml").is_file():
        print(f"{args.source}: there is no pyproject.toml; give --source", file=sys.stderr)
        return UNREADABLE
    args.folder.mkdir(parents=True, exist_ok=True)
    for old in args.folder.glob("spurlock-*.whl"):
        old.unlink()
    for command in (building(args.folder, args.source), fetching(args.folder, args.python)):
        status = subprocess.run(command, check=False).returncode
        if status:
            print(f"{' '.join(command[2:5])}: failed; see above", file=sys.stderr)
            return UNREADABLE
    count = len(list(args.folder.glob("*.whl")))
    print(f"{args.folder}: {count} wheels for 64-bit ARM and Python {args.python}.")
    return 0
