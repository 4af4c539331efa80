"""``spurlock jobs``: a layout's jobs read from a file, or written to standard output."""

from __future__ import annotations

import argparse
import sys
import time
from pathlib import Path
from typing import TYPE_CHECKING

from sqlalchemy import Engine

from firmware_py.commands.last_layout import last_layout
from firmware_py.layout.errors import LayoutError
from firmware_py.logbook.errors import LogbookError
from firmware_py.logbook.opening import open_engine, open_to_read
from firmware_py.logbook.screen.job_files import LARGEST_FILE, JobFileError, read_jobs, write_jobs
from firmware_py.logbook.screen.job_lists import TooManyJobsError, take_in
from firmware_py.logbook.screen.jobs import jobs_of

if TYPE_CHECKING:
    Subparsers = argparse._SubParsersAction[argparse.ArgumentParser]

DESCRIPTION = """\
Take a file of jobs into a logbook, or write the logbook's jobs out. They are
the jobs of the layout that was guarded last. An import takes in all of a
file's jobs or, with a line for each thing that is wrong, none of them.
"""

EXAMPLES = """\
examples:
  spurlock jobs my-layout.sqlite --export > evening.toml
  spurlock jobs my-layout.sqlite --import evening.toml
  spurlock jobs my-layout.sqlite --import evening.toml --replace

a file:
  [[job]]
  name = "Milk run"
  crew = "Two of us"
  cars = 4
  rear = "marker"             # or "caboose", or left out
  keys = ["upper-key"]

  [[job.stop]]
  spur = "creamery"
  pull = ["milk car"]
  spot = [{car = "ice car", place = "at the upper door"}]
  note = "The ramp is steep."
"""


def add_parser(subparsers: Subparsers) -> None:
    """Add the command to the console script's parser."""
    parser = subparsers.add_parser(
        "jobs",
        help="take jobs in from a file, or write them out",
        description=DESCRIPTION,
        epilog=EXAMPLES,
        formatter_class=argparse.RawDescriptionHelpFormatter,
    )
    parser.add_argument("logbook", metavar="LOGBOOK", help="the logbook: a SQLite file, or a URL")
    way = parser.add_mutually_exclusive_group(required=True)
    way.add_argument(
        "--import", dest="file", metavar="FILE", help="take in this file's jobs; - reads the input"
    )
    way.add_argument("--export", action="store_true", help="write the jobs to standard output")
    parser.add_argument(
        "--replace",
        action="store_true",
        help="with --import: the file's jobs take the place of the list; those of the same name "
        "keep their crews' links",
    )
    parser.set_defaults(run=run)


def run(args: argparse.Namespace) -> int:
    """Run the command; the answer is the exit status."""
    try:
        database = open_to_read(args.logbook)  # It makes no logbook where there is none.
        if not args.export:
            database.dispose()
            database = open_engine(args.logbook)
        try:
            return _export(database) if args.export else _import(database, args.file, args.replace)
        finally:
            database.dispose()
    except (LogbookError, LayoutError, JobFileError, TooManyJobsError) as error:
        print(error, file=sys.stderr)
        return 2


def _export(database: Engine) -> int:
    text = write_jobs(jobs_of(database, last_layout(database).name))
    sys.stdout.write(text)
    return 0


def _import(database: Engine, file: str, replace: bool) -> int:
    layout = last_layout(database)
    jobs = read_jobs(_text(file), file, layout)
    take_in(database, layout.name, jobs, time.time_ns() // 1_000, replace=replace)
    count = "1 job is" if len(jobs) == 1 else f"{len(jobs)} jobs are"
    print(f"{count} on the list of {layout.name} now." if replace else f"{count} added.")
    return 0


def _text(file: str) -> str:
    """A file's text. Raises ``JobFileError`` for one that can't be read."""
    try:
        if file == "-":
            data = sys.stdin.buffer.read(LARGEST_FILE + 1)
        else:
            with Path(file).open("rb") as stream:
                data = stream.read(LARGEST_FILE + 1)
    except (OSError, ValueError) as error:
        reason = getattr(error, "strerror", None) or error
        raise JobFileError.of(file, None, f"the file can't be read: {reason}") from None
    if len(data) > LARGEST_FILE:
        raise JobFileError.of(file, None, "the file is larger than 1 MiB; jobs are short text")
    try:
        return data.decode("utf-8")
    except UnicodeDecodeError as error:
        line = data.count(b"\n", 0, error.start) + 1
        what = f"byte 0x{data[error.start]:02x} is not UTF-8; save the file as UTF-8 text"
        raise JobFileError.of(file, line, what) from None
