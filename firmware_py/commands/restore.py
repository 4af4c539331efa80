"""``spurlock restore``: puts a backup in a logbook's place, and says first what that replaces."""

from __future__ import annotations

import argparse
import sys
from datetime import datetime
from pathlib import Path
from typing import TYPE_CHECKING

from firmware_py.layout.errors import printable
from firmware_py.logbook.errors import LogbookError
from firmware_py.logbook.restoring import Holdings, check_backup, holdings, is_running, restore

if TYPE_CHECKING:
    Subparsers = argparse._SubParsersAction[argparse.ArgumentParser]

DONE, LEFT, REFUSED = 0, 1, 2
"""Exit statuses."""

DESCRIPTION = """\
Put a backup in a logbook's place. It says what both hold and asks first. The
file that is replaced is not lost: it is set aside under a name with the date.
While an engine keeps the logbook nothing is touched.

The engine makes a backup a day, in the folder "backups" beside the logbook.
"""

EXAMPLES = """\
example:
  spurlock restore my-layout.sqlite backups/my-layout-2031-04-07.sqlite
"""


def add_parser(subparsers: Subparsers) -> None:
    """Add the command to the console script's parser."""
    parser = subparsers.add_parser(
        "restore",
        help="put a backup in a logbook's place",
        description=DESCRIPTION,
        epilog=EXAMPLES,
        formatter_class=argparse.RawDescriptionHelpFormatter,
    )
    parser.add_argument("logbook", metavar="LOGBOOK", type=Path, help="the logbook's file")
    parser.add_argument("backup", metavar="BACKUP", type=Path, help="the backup's file")
    parser.add_argument("--yes", action="store_true", help="don't ask")
    parser.set_defaults(run=run)


def run(args: argparse.Namespace) -> int:
    """Run the command; the answer is the exit status."""
    try:
        check_backup(args.backup)
        _check_free(args.logbook)
        print(printable(f"The backup   {args.backup} holds {_words(holdings(args.backup))}."))
        print(printable(f"It replaces  {args.logbook}, {_present(args.logbook)}."))
        if not args.yes and not _agreed():
            print("Nothing was replaced.")
            return LEFT
        aside = restore(args.logbook, args.backup, datetime.now())
    except LogbookError as error:
        print(printable(str(error)), file=sys.stderr)
        return REFUSED
    print(printable(f"Done. What was there is kept as {aside}." if aside else "Done."))
    return DONE


def _check_free(logbook: Path) -> None:
    if is_running(logbook):
        raise LogbookError(f"{logbook}: an engine keeps this logbook; stop it first")


def _present(logbook: Path) -> str:
    if not logbook.exists():
        return "which is not there"
    try:
        return f"which holds {_words(holdings(logbook))}"
    except LogbookError:
        return "which can't be read"


def _words(holds: Holdings) -> str:
    sessions = "1 session" if holds.sessions == 1 else f"{holds.sessions} sessions"
    if holds.newest_wall_us is None:
        return f"{sessions} and no entry"
    newest = datetime.fromtimestamp(holds.newest_wall_us / 1_000_000)
    return f"{sessions} and {holds.entries} entries up to {newest:%Y-%m-%d %H:%M:%S}"


def _agreed() -> bool:
    try:
        return input("Replace it? (yes or no) ").strip().lower() in {"y", "yes"}
    except (EOFError, KeyboardInterrupt):
        return False
