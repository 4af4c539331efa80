"""``spurlock pin``: set the host's PIN, which his buttons ask for."""

from __future__ import annotations

import argparse
import getpass
import sys
from pathlib import Path
from typing import TYPE_CHECKING

from firmware_py.logbook.errors import LogbookError
from firmware_py.logbook.opening import open_engine
from firmware_py.logbook.screen.pin import PinError, set_pin

if TYPE_CHECKING:
    Subparsers = argparse._SubParsersAction[argparse.ArgumentParser]

DESCRIPTION = """\
Set the PIN that the host's buttons ask for: answering for the foreman,
acknowledging, jobs, and opening or closing a session. Anyone on the network
may watch; only who knows the PIN may act as the host.

The PIN is asked for twice, or read from standard input where that is no
terminal. It is kept as a salted scrypt hash. Every browser is signed out.
"""


def add_parser(subparsers: Subparsers) -> None:
    """Add the command to the console script's parser."""
    parser = subparsers.add_parser(
        "pin",
        help="set the host's PIN",
        description=DESCRIPTION,
        epilog="example:\n  spurlock pin my-layout.sqlite",
        formatter_class=argparse.RawDescriptionHelpFormatter,
    )
    parser.add_argument("logbook", metavar="LOGBOOK", help="the logbook: a SQLite file, or a URL")
    parser.set_defaults(run=run)


def run(args: argparse.Namespace) -> int:
    """Run the command; the answer is the exit status."""
    if "://" not in args.logbook and not Path(args.logbook).parent.is_dir():
        print(f"{args.logbook}: there is no such folder to keep a logbook in", file=sys.stderr)
        return 2
    try:
        pin = _asked() if sys.stdin.isatty() else sys.stdin.readline().rstrip("\r\n")
        database = open_engine(args.logbook)
        try:
            set_pin(database, pin)
        finally:
            database.dispose()
    except (PinError, LogbookError) as error:
        print(error, file=sys.stderr)
        return 2
    print("The host PIN is set. Browsers that were signed in have to give it anew.")
    return 0


def _asked() -> str:
    pin = getpass.getpass("Host PIN: ")
    if getpass.getpass("Once more: ") != pin:
        raise PinError("the two differ; nothing was changed")
    return pin
