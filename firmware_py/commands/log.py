"""``spurlock log``: what a logbook holds, as text, as a table, or as a tape that replays."""

from __future__ import annotations

import argparse
import contextlib
import csv
import json
import sys
import time
from collections.abc import Iterator
from datetime import datetime
from pathlib import Path
from typing import TYPE_CHECKING, TextIO

from firmware_py.layout.errors import printable
from firmware_py.logbook.errors import LogbookError
from firmware_py.logbook.opening import open_to_read
from firmware_py.logbook.reading import Reader
from firmware_py.logbook.records import EntryRecord, SessionRecord
from firmware_py.logbook.tapes import tape_lines

if TYPE_CHECKING:
    from sqlalchemy import Engine

    Subparsers = argparse._SubParsersAction[argparse.ArgumentParser]

DONE, UNREADABLE = 0, 2
PAGE = 1000
LOOK_EVERY_S = 0.2
FORMS = ("text", "csv", "json", "tape")

DESCRIPTION = """\
Print what a logbook holds: each entry of a session with its time in the
session and what happened. A running logbook may be read too.

"--as tape" gives the session's tape: its raw readings and commands, which
"spurlock replay" plays to the very entries that were logged.
"""

EXAMPLES = """\
examples:
  spurlock log my-layout.sqlite                       the newest session
  spurlock log my-layout.sqlite --sessions            which sessions there are
  spurlock log my-layout.sqlite --what violation --spur kiln
  spurlock log my-layout.sqlite --follow              go on as it happens
  spurlock log my-layout.sqlite --as tape --out evening.jsonl
"""


def add_parser(subparsers: Subparsers) -> None:
    """Add the command to the console script's parser."""
    parser = subparsers.add_parser(
        "log",
        help="print, filter and export what a logbook holds",
        description=DESCRIPTION,
        epilog=EXAMPLES,
        formatter_class=argparse.RawDescriptionHelpFormatter,
    )
    parser.add_argument("logbook", metavar="LOGBOOK", help="a logbook's file or SQLAlchemy URL")
    parser.add_argument("--sessions", action="store_true", help="list the sessions, and no more")
    parser.add_argument("--session", type=int, metavar="N", help="a session (the newest)")
    parser.add_argument("--spur", metavar="ID", help="only what concerns this spur")
    parser.add_argument("--rule", metavar="RULE", help="only violations of this rule")
    parser.add_argument("--what", metavar="KIND", help="only entries of this kind, such as stage")
    parser.add_argument("--since", type=float, metavar="S", help="from this second of the session")
    parser.add_argument("--until", type=float, metavar="S", help="up to this second of the session")
    parser.add_argument("--follow", action="store_true", help="go on as more is logged")
    parser.add_argument("--as", dest="form", choices=FORMS, default="text", help="how (text)")
    parser.add_argument("--out", type=Path, metavar="FILE", help="a new file to write to")
    parser.set_defaults(run=run)


def run(args: argparse.Namespace) -> int:
    """Run the command; the answer is the exit status."""
    try:
        engine = open_to_read(args.logbook)
        try:
            with _out(args.out) as out:
                _print(engine, args, out)
        finally:
            engine.dispose()
    except LogbookError as error:
        print(printable(str(error)), file=sys.stderr)
        return UNREADABLE
    except FileExistsError:
        print(f"{args.out}: this file exists; name a new one", file=sys.stderr)
        return UNREADABLE
    except OSError as error:
        print(printable(f"{args.out}: {error.strerror or error}"), file=sys.stderr)
        return UNREADABLE
    return DONE


@contextlib.contextmanager
def _out(path: Path | None) -> Iterator[TextIO]:
    if path is None:
        yield sys.stdout
        sys.stdout.flush()
    else:
        with path.open("x", encoding="utf-8", newline="") as out:
            yield out


def _print(engine: Engine, args: argparse.Namespace, out: TextIO) -> None:
    reader = Reader(engine)
    try:
        sessions = reader.sessions(PAGE)
        if args.sessions:
            for session in sessions:
                out.write(_session_words(session) + "\n")
            return
        session_id = _chosen(args.logbook, sessions, args.session)
        if args.form == "tape":
            for line in tape_lines(engine, session_id):
                out.write(json.dumps(line) + "\n")
            return
        _print_entries(_entries(reader, session_id, args), args.form, out)
    finally:
        reader.close()


def _chosen(logbook: str, sessions: list[SessionRecord], wanted: int | None) -> int:
    ids = [session.id for session in sessions]
    if not ids:
        raise LogbookError(f"{logbook}: it holds no session yet; spurlock run begins one")
    if wanted is not None and wanted not in ids:
        raise LogbookError(f"{logbook}: there is no session {wanted}; --sessions lists them")
    return wanted or ids[0]


def _entries(reader: Reader, session: int, args: argparse.Namespace) -> Iterator[EntryRecord]:
    after = 0
    kinds = None if args.what is None else [args.what]
    while True:
        page = reader.entries(session, after, PAGE, kinds)
        for entry in page:
            after = entry.id
            if _wanted(entry, args):
                yield entry
        if not page and not args.follow:
            return
        if not page:
            time.sleep(LOOK_EVERY_S)


def _wanted(entry: EntryRecord, args: argparse.Namespace) -> bool:
    seconds = entry.t_us / 1_000_000
    return (
        (args.spur is None or args.spur in (entry.spur, entry.at))
        and (args.rule is None or entry.line.get("rule") == args.rule)
        and (args.since is None or seconds >= args.since)
        and (args.until is None or seconds <= args.until)
    )


def _print_entries(entries: Iterator[EntryRecord], form: str, out: TextIO) -> None:
    table = csv.writer(out)
    if form == "csv":
        table.writerow(["t", "wall", "what", "at", "spur", "line"])
    for entry in entries:
        if form == "json":
            out.write(json.dumps(entry.line) + "\n")
        elif form == "csv":
            wall = _wall(entry.wall_us)
            row = [entry.line["t"], wall, entry.what, entry.at, entry.spur, json.dumps(entry.line)]
            table.writerow(row)
        else:
            out.write(_words(entry) + "\n")
        out.flush()


def _words(entry: EntryRecord) -> str:
    """An entry as a line to read: its time, what it is, and its fields by name."""
    rest = {key: value for key, value in entry.line.items() if key not in ("t", "what")}
    fields = "  ".join(f"{key} {_field(value)}" for key, value in rest.items() if value != [])
    return printable(f"{_clock(entry.t_us)}  {entry.what:<10}  {fields}")


def _field(value: object) -> str:
    if isinstance(value, list):
        return ", ".join(str(item) for item in value)
    if value is None:
        return "none"
    return {"True": "yes", "False": "no"}.get(str(value), str(value))


def _clock(t_us: int) -> str:
    minutes, seconds = divmod(t_us / 1_000_000, 60)
    return f"{int(minutes) // 60}:{int(minutes) % 60:02d}:{seconds:06.3f}"


def _session_words(session: SessionRecord) -> str:
    end = "not ended" if session.ended_t_us is None else f"lasted {_clock(session.ended_t_us)}"
    pins = "simulated" if session.simulated else "real pins"
    began = _wall(session.began_wall_us)
    return printable(f"{session.id:>4}  {began}  {end}  {pins}  {session.layout_name}")


def _wall(wall_us: int) -> str:
    return datetime.fromtimestamp(wall_us / 1_000_000).astimezone().isoformat(timespec="seconds")
