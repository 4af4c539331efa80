"""``spurlock doctor``: what is well with the appliance, what is not, and what to do."""

from __future__ import annotations

import argparse
import sys
import time
from pathlib import Path
from typing import TYPE_CHECKING

from firmware_py.club.credentials import ClubError
from firmware_py.gathering.board_file import is_board_file, read_board
from firmware_py.layout.errors import LayoutError
from firmware_py.layout.reading import read_layout
from firmware_py.service.doctor.board import examine_board
from firmware_py.service.doctor.examining import UNREADABLE, examine, lines, status
from firmware_py.service.doctor.findings import Case, Finding

if TYPE_CHECKING:
    Subparsers = argparse._SubParsersAction[argparse.ArgumentParser]

DESCRIPTION = """\
Say how an appliance fares: pins, engine, screen, logbook, disk, backups, heat,
supply and clock; and what only a Pi can get wrong: boot settings, pulls of output
pins, I2C speed, watchdog, and an overlay over the data. For a box of a club, its
password, broker and courier as well; for a club's board host, those, its gatherer,
its database, and each box. Each comes with what to do where it needs care. Nothing
is changed, and nothing need run.

The exit status is 0 if all is well, 1 if something needs care, and 2 if the
logbook or the layout can't be read. What this machine can't tell ("untold")
counts as well.
"""

EXAMPLES = """\
examples:
  spurlock doctor my-layout.toml     the logbook beside this layout
  spurlock doctor my-layout.sqlite   this logbook
  spurlock doctor club.toml          a club's board host, by the board's file
  spurlock doctor                    the only layout in this folder
"""


def add_parser(subparsers: Subparsers) -> None:
    """Add the command to the console script's parser."""
    parser = subparsers.add_parser(
        "doctor",
        help="say what is well, what is not, and what to do",
        description=DESCRIPTION,
        epilog=EXAMPLES,
        formatter_class=argparse.RawDescriptionHelpFormatter,
    )
    parser.add_argument(
        "what",
        metavar="LOGBOOK, LAYOUT or BOARD",
        nargs="?",
        help="a logbook (file or SQLAlchemy URL), a layout file or a board's file (TOML)",
    )
    parser.set_defaults(run=run)


def run(args: argparse.Namespace) -> int:
    """Run the command; the answer is the exit status."""
    what = args.what or _only_layout(Path())
    if what is None:
        print("name a logbook or a layout: this folder has not just one layout", file=sys.stderr)
        return UNREADABLE
    return report(what, Path("/"))


def report(what: str, root: Path) -> int:
    """Examine ``what`` on the machine whose files are under ``root``, and print what is found."""
    layout = Path(what) if what.endswith(".toml") and "://" not in what else None
    if layout is not None and is_board_file(layout):
        return _report_board(layout, root)
    if layout is not None:
        try:
            read_layout(layout)
        except LayoutError as error:
            print(error, file=sys.stderr)
            return UNREADABLE
    logbook = str(layout.with_suffix(".sqlite")) if layout else what
    case = Case(logbook, layout, root, _wall_us, _steady_us)
    return _told(examine(case))


def _report_board(path: Path, root: Path) -> int:
    try:
        board = read_board(path)
    except (LayoutError, ClubError) as error:
        print(error, file=sys.stderr)
        return UNREADABLE
    case = Case(board.database, None, root, _wall_us, _steady_us)
    return _told(examine_board(case, board))


def _told(findings: list[Finding]) -> int:
    for line in lines(findings):
        print(line)
    return status(findings)


def _only_layout(folder: Path) -> str | None:
    found = sorted(folder.glob("*.toml"))
    return str(found[0]) if len(found) == 1 else None


def _wall_us() -> int:
    return time.time_ns() // 1000


def _steady_us() -> int:
    return time.monotonic_ns() // 1000
