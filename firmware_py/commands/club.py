"""``spurlock club``: a whole club on this machine, for trying."""

from __future__ import annotations

import argparse
import sys
import tempfile
import time
from importlib.resources import files
from pathlib import Path
from typing import TYPE_CHECKING

from firmware_py.club.credentials import ClubError
from firmware_py.commands.demo import pace_of, pin_of
from firmware_py.commands.run import HOST, PORT
from firmware_py.gathering.layouts import layout_on_board, one_layout
from firmware_py.layout.errors import LayoutError
from firmware_py.layout.model import Layout
from firmware_py.layout.reading import read_layout
from firmware_py.logbook.errors import LogbookError
from firmware_py.logbook.opening import open_engine
from firmware_py.logbook.screen.job_files import read_jobs
from firmware_py.logbook.screen.job_lists import take_in
from firmware_py.logbook.screen.jobs import jobs_of
from firmware_py.service.starting import free_port
from firmware_py.service.trial.club import TITLE, Written, children, machines, watch, write_files
from firmware_py.service.trial.programs import TrialError

if TYPE_CHECKING:
    Subparsers = argparse._SubParsersAction[argparse.ArgumentParser]

UNREADABLE = 2
JOBS = "jobs.toml"

DESCRIPTION = """\
Try a whole club on this machine: Debian's own MQTT broker and PostgreSQL in a
folder of their own, three boxes on simulated pins with crews at work, and one
board for all of them, whose address is printed. You are the host.

It needs Debian's packages mosquitto and postgresql; --sqlite does without the
second. Ctrl-C ends all of it; the folder stays where the first line says.
"""

EXAMPLES = """\
examples:
  spurlock club                watch three boxes on one board
  spurlock club --sqlite       without PostgreSQL
  spurlock club --no-crew      nobody works but you, at the bench page
"""


def add_parser(subparsers: Subparsers) -> None:
    """Add the command to the console script's parser."""
    parser = subparsers.add_parser(
        "club",
        help="try a whole club: broker, database, three boxes, one board",
        description=DESCRIPTION,
        epilog=EXAMPLES,
        formatter_class=argparse.RawDescriptionHelpFormatter,
    )
    parser.add_argument("--sqlite", action="store_true", help="the board's database is a file")
    parser.add_argument("--no-crew", action="store_true", help="leave the contacts to you")
    parser.add_argument("--pace", type=pace_of, default=1.0, help="the crews' haste; 1 is human")
    parser.add_argument("--port", type=int, default=PORT, help=f"the page's port ({PORT} if free)")
    parser.add_argument("--folder", type=Path, help="where to keep everything (a new folder)")
    parser.set_defaults(run=run)


def run(args: argparse.Namespace) -> int:
    """Run the command; the answer is the exit status."""
    folder = args.folder or Path(tempfile.mkdtemp(prefix="spurlock-club-"))
    try:
        folder.mkdir(parents=True, exist_ok=True)
        folder.chmod(0o755)  # PostgreSQL runs as a user of its own where this is root.
        port = free_port(HOST, args.port)
        with machines(folder, sqlite=args.sqlite) as (broker, url, words):
            written = write_files(folder, broker, words, url)
            pin = _prepare(written)
            print(f"The club's folder is {folder}. Ctrl-C ends it.", flush=True)
            print(f"The host PIN is {pin}." if pin else "The host PIN is the one set before.")
            sys.stdout.flush()
            every = children(written, (HOST, port), crew=not args.no_crew, pace=args.pace)
            return watch(every, lambda text: print(text, file=sys.stderr, flush=True))
    except (OSError, OverflowError, TrialError, ClubError, LogbookError, LayoutError) as error:
        print(f"the club can't begin: {error}", file=sys.stderr)
        return UNREADABLE


def _whole(written: Written) -> Layout:
    rooms = {
        room: layout_on_board(room, read_layout(path)) for room, path in written.layouts.items()
    }
    whole = one_layout(TITLE, rooms)
    assert whole is not None, "there are three rooms"
    return whole


def _prepare(written: Written) -> str | None:
    """Draw a PIN for a new board, and give it the trial's jobs."""
    pin = pin_of(written.database)
    database = open_engine(written.database)
    try:
        if not jobs_of(database, TITLE, dropped=True):
            text = (files("firmware_py.demo") / "layouts" / "club" / JOBS).read_text("utf-8")
            jobs = read_jobs(text, JOBS, _whole(written))
            take_in(database, TITLE, jobs, time.time_ns() // 1_000)
    finally:
        database.dispose()
    return pin
