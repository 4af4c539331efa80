"""``spurlock demo``: the whole thing on simulated pins, with scripted crews at work."""

from __future__ import annotations

import argparse
import sys
import tempfile
import time
from importlib.resources import as_file, files
from pathlib import Path
from typing import TYPE_CHECKING

from firmware_py.commands.run import HOST, PORT
from firmware_py.layout.reading import parse_layout
from firmware_py.logbook.errors import LogbookError
from firmware_py.logbook.opening import open_engine
from firmware_py.logbook.screen.job_files import read_jobs
from firmware_py.logbook.screen.job_lists import take_in
from firmware_py.logbook.screen.jobs import jobs_of
from firmware_py.logbook.screen.pin import draw_pin
from firmware_py.service.starting import Appliance, free_port, serve

if TYPE_CHECKING:
    Subparsers = argparse._SubParsersAction[argparse.ArgumentParser]

LAYOUT = "wendlebeck.toml"
JOBS = "jobs.toml"

DESCRIPTION = """\
Bring up an invented valley on simulated pins, with a logbook in a folder of
its own and a page on this machine whose address is printed. Two scripted crews
work the spurs honestly and now and then slip; you are the host: answer them,
watch the violations, and open the bench page to move contacts by hand.

Ctrl-C ends it. The logbook stays where the first line says.
"""

EXAMPLES = """\
examples:
  spurlock demo               watch crews at work
  spurlock demo --no-crew     nobody works but you, at the bench page
  spurlock demo --pace 10     ten times as brisk
"""


def add_parser(subparsers: Subparsers) -> None:
    """Add the command to the console script's parser."""
    parser = subparsers.add_parser(
        "demo",
        help="see it work, with simulated wires and crews",
        description=DESCRIPTION,
        epilog=EXAMPLES,
        formatter_class=argparse.RawDescriptionHelpFormatter,
    )
    parser.add_argument("--no-crew", action="store_true", help="leave the contacts to you")
    parser.add_argument("--pace", type=pace_of, default=1.0, help="the crews' haste; 1 is human")
    parser.add_argument("--seed", type=int, help="the same crews, slips and delays again")
    parser.add_argument("--port", type=int, default=PORT, help=f"the page's port ({PORT} if free)")
    parser.add_argument("--folder", type=Path, help="where to keep the logbook (a new folder)")
    parser.set_defaults(run=run)


def run(args: argparse.Namespace) -> int:
    """Run the command; the answer is the exit status."""
    folder = args.folder or Path(tempfile.mkdtemp(prefix="spurlock-demo-"))
    try:
        folder.mkdir(parents=True, exist_ok=True)
        port = free_port(HOST, args.port)
    except (OSError, OverflowError) as error:
        print(f"the demo can't begin: {error}", file=sys.stderr)
        return 2
    logbook = folder / "logbook.sqlite"
    try:
        pin = pin_of(str(logbook))
        _make_jobs(str(logbook))
    except LogbookError as error:
        print(error, file=sys.stderr)
        return 2
    print(f"The demo's logbook is {logbook}. Ctrl-C ends the demo.", flush=True)
    print(f"The host PIN is {pin}." if pin else "The host PIN is the one set before.", flush=True)
    with as_file(files("firmware_py.demo") / "layouts" / LAYOUT) as layout:
        appliance = Appliance(
            layout,
            str(logbook),
            simulated=True,
            host=HOST,
            port=port,
            crew=not args.no_crew,
            pace=args.pace,
            seed=args.seed,
            opened=True,
        )
        return serve(appliance, lambda text: print(text, file=sys.stderr, flush=True))


def pin_of(logbook: str) -> str | None:
    """Draw a PIN for a new logbook; ``None`` where one was set before."""
    database = open_engine(logbook)
    try:
        return draw_pin(database)
    finally:
        database.dispose()


def _make_jobs(logbook: str) -> None:
    """Give a logbook that has never had a job the demo's own."""
    room = files("firmware_py.demo")
    layout = parse_layout((room / "layouts" / LAYOUT).read_text("utf-8"), LAYOUT)
    database = open_engine(logbook)
    try:
        if not jobs_of(database, layout.name, dropped=True):
            jobs = read_jobs((room / JOBS).read_text("utf-8"), JOBS, layout)
            take_in(database, layout.name, jobs, time.time_ns() // 1_000)
    finally:
        database.dispose()


def pace_of(text: str) -> float:
    """How brisk the crews are, from the command line."""
    try:
        pace = float(text)
    except ValueError:
        pace = 0.0
    if not 0.01 <= pace <= 1000:
        raise argparse.ArgumentTypeError(f"{text!r} is no pace; 1 is human, 10 is brisk")
    return pace
