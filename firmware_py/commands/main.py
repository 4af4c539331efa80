"""The console script ``spurlock``: one module of this room for each command."""

from __future__ import annotations

import argparse
import sys
from collections.abc import Sequence
from importlib import import_module

from firmware_py import __version__

COMMANDS = (
    "demo",
    "run",
    "replay",
    "log",
    "pin",
    "jobs",
    "restore",
    "check",
    "prove",
    "plan",
    "wiring",
    "commission",
    "new",
    "doctor",
)
"""In the order a newcomer meets them; each is a module with ``add_parser`` and ``run``."""

DESCRIPTION = """\
Spurlock reads the locks, points, gates, flags, chocks and keys of a scale
layout's industry spurs, leads crews through them with lamps, shows the host
every violation, and keeps the log.
"""

START = """\
to begin:
  spurlock demo                  see it work, with simulated wires and crews
  spurlock new my-layout.toml    write down a layout of your own
  spurlock check my-layout.toml  see what is right and wrong with it
  spurlock plan my-layout.toml   give every wire a pin
  spurlock wiring my-layout.toml --out book
                                 print a book to solder by
  spurlock commission my-layout.toml
                                 prove every wire, and keep the record
  spurlock run my-layout.toml --simulated
                                 guard it, with wires yet to be soldered
  spurlock COMMAND --help        what a command does, with examples

For scale layouts only: low voltage, and never for a real railway.
"""


def main(argv: Sequence[str] | None = None) -> int:
    """Run one command; the answer is the exit status (2: input that can't be read)."""
    args = parser().parse_args(argv)
    for stream in (sys.stdout, sys.stderr):
        if hasattr(stream, "reconfigure"):
            stream.reconfigure(errors="backslashreplace")  # A name must not stop a report.
    try:
        status: int = args.run(args)
    except KeyboardInterrupt:
        return 130
    return status


def parser() -> argparse.ArgumentParser:
    """The parser of all commands."""
    whole = argparse.ArgumentParser(
        prog="spurlock",
        description=DESCRIPTION,
        epilog=START,
        formatter_class=argparse.RawDescriptionHelpFormatter,
    )
    whole.add_argument("--version", action="version", version=f"spurlock {__version__}")
    subparsers = whole.add_subparsers(metavar="COMMAND", required=True)
    for name in COMMANDS:
        import_module(f"firmware_py.commands.{name}").add_parser(subparsers)
    return whole


if __name__ == "__main__":
    sys.exit(main())
