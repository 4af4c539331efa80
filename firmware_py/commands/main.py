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
    "board",
    "club",
    "replay",
    "log",
    "pin",
    "jobs",
    "forecast",
    "restore",
    "check",
    "prove",
    "plan",
    "wiring",
    "commission",
    "new",
    "notches",
    "rolls",
    "doctor",
    "install",
    "upgrade",
    "uninstall",
    "wheels",
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
  spurlock install my-layout.toml --wheels wheels
                                 make an appliance of a Pi
  spurlock club                  see many boxes on one board
  spurlock COMMAND --help        what a command does, with examples

For scale layouts only: low voltage, and never for a real railway.
"""


def main(argv: Sequence[str] | None = None) -> int:
    """Run one command; the answer is the exit status (2: input that can't be read)."""
    given = sys.argv[1:] if argv is None else argv
    args = parser(*given[:1]).parse_args(given)
    for stream in (sys.stdout, sys.stderr):
        if hasattr(stream, "reconfigure"):
            stream.reconfigure(errors="backslashreplace")  # A name must not stop a report.
    try:
        status: int = args.run(args)
    except KeyboardInterrupt:
        return 130
    return status


def parser(first: str = "") -> argparse.ArgumentParser:
    """The parser of all commands; of one alone where the ``first`` word names it.

    Loading them all takes longer than most of them run.
    """
    whole = argparse.ArgumentParser(
        prog="spurlock",
        description=DESCRIPTION,
        epilog=START,
        formatter_class=argparse.RawDescriptionHelpFormatter,
    )
    whole.add_argument("--version", action="version", version=f"spurlock {__version__}")
    subparsers = whole.add_subparsers(metavar="COMMAND", required=True)
    for name in [first] if first in COMMANDS else COMMANDS:
        import_module(f"firmware_py.commands.{name}").add_parser(subparsers)
    return whole


if __name__ == "__main__":
    sys.exit(main())
