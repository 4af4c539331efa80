"""``spurlock log``: what a logbook holds, as text, as a table, or as a tape that replays."""

from __future__ import annotations

import argparse
import contextlib
import os
import sys
import time
from collections.abc import Iterator
from pathlib import Path
from typing import TYPE_CHECKING, TextIO

from firmware_py.commands.log_check import verify
from firmware_py.commands.log_choice import Choice, kinds, moment, rule
from firmware_py.commands.log_forms import (
    Form,
    Lines,
    Lister,
    Table,
    Text,
    write_sessions,
    write_tape,
)
from firmware_py.commands.log_words import session_words
from firmware_py.layout.errors import printable
from firmware_py.logbook.errors import LogbookError
from firmware_py.logbook.opening import open_engine, open_to_read
from firmware_py.logbook.pruning import free_space, older_than, prune
from firmware_py.logbook.reading import Reader
from firmware_py.logbook.records import SessionRecord

if TYPE_CHECKING:
    from sqlalchemy import Engine

    Subparsers = argparse._SubParsersAction[argparse.ArgumentParser]

DONE, NOT_WELL, UNREADABLE = 0, 1, 2
"""Exit statuses; the middle one is also for a question that was answered no."""

MOST = 1_000_000
FORMS = ("text", "csv", "json", "tape", "layout")

DESCRIPTION = """\
Print what a logbook holds: a line for each thing that happened in a session,
with its time in the session. A logbook that an engine is writing may be read.

"--as json" gives the lines that a replay prints. "--as tape" gives the
session's raw readings and commands, which "spurlock replay" plays to the very
entries that were logged, on the layout as it was in force: "--as layout".

Times for --since and --until: 90, 12m or 1h30m into the session; 20:15 or
"2031-04-07 20:15" by the clock.

--verify checks the database and what it holds, and plays each session's tape;
the exit status is 0 if all is well and 1 if not.
"""

EXAMPLES = """\
examples:
  spurlock log my-layout.sqlite                       the newest session
  spurlock log my-layout.sqlite --sessions            which sessions there are
  spurlock log my-layout.sqlite --what violation --spur kiln
  spurlock log my-layout.sqlite --follow              go on as it happens
  spurlock log my-layout.sqlite --as tape --out evening.jsonl
  spurlock log my-layout.sqlite --as layout --out evening.toml
  spurlock log my-layout.sqlite --verify
  spurlock log my-layout.sqlite --prune-days 365      remove old sessions
"""


def add_parser(subparsers: Subparsers) -> None:
    """Add the command to the console script's parser."""
    parser = subparsers.add_parser(
        "log",
        help="print, filter, export, check and prune what a logbook holds",
        description=DESCRIPTION,
        epilog=EXAMPLES,
        formatter_class=argparse.RawDescriptionHelpFormatter,
    )
    parser.add_argument("logbook", metavar="LOGBOOK", help="a logbook's file or SQLAlchemy URL")
    parser.add_argument("--session", type=int, metavar="N", help="a session (the newest)")
    parser.add_argument("--spur", metavar="ID", help="only what concerns this spur")
    parser.add_argument("--rule", type=rule, metavar="RULE", help="only violations of this rule")
    parser.add_argument(
        "--what", type=kinds, metavar="KINDS", help="only these kinds, such as stage,violation"
    )
    parser.add_argument("--since", type=moment, metavar="TIME", help="from this time on")
    parser.add_argument("--until", type=moment, metavar="TIME", help="up to this time")
    parser.add_argument("--as", dest="form", choices=FORMS, default="text", help="how (text)")
    parser.add_argument("--out", type=Path, metavar="FILE", help="a new file to write to")
    instead = parser.add_mutually_exclusive_group()
    instead.add_argument("--follow", action="store_true", help="go on as more is logged")
    instead.add_argument("--sessions", action="store_true", help="list the sessions, and no more")
    instead.add_argument("--verify", action="store_true", help="check it (all, or --session N)")
    instead.add_argument(
        "--prune-days", type=_days, metavar="N", help="remove sessions older than N days"
    )
    parser.add_argument("--yes", action="store_true", help="prune without asking")
    parser.set_defaults(run=run)


def run(args: argparse.Namespace) -> int:
    """Run the command; the answer is the exit status."""
    try:
        if args.prune_days is not None:
            return _prune(args.logbook, args.prune_days, agreed=args.yes)
        engine = open_to_read(args.logbook)
        try:
            with _out(args.out) as out:
                return _print(engine, args, out)
        finally:
            engine.dispose()
    except LogbookError as error:
        print(printable(str(error)), file=sys.stderr)
    except BrokenPipeError:
        # Whoever read us has seen enough; leave nothing for the interpreter to flush at exit.
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
        return DONE
    except FileExistsError:
        print(printable(f"{args.out}: this file exists; name a new one"), file=sys.stderr)
    except OSError as error:
        where = args.out or "standard output"
        print(printable(f"{where}: {error.strerror or error}"), file=sys.stderr)
    return UNREADABLE


@contextlib.contextmanager
def _out(path: Path | None) -> Iterator[TextIO]:
    if path is None:
        yield sys.stdout
        sys.stdout.flush()
    else:
        with path.open("x", encoding="utf-8", newline="") as out:
            yield out


def _print(engine: Engine, args: argparse.Namespace, out: TextIO) -> int:
    reader = Reader(engine)
    try:
        if args.verify:
            wanted = None if args.session is None else _chosen(args, reader)
            sessions = reader.sessions(MOST)[::-1] if wanted is None else [wanted]
            return DONE if verify(engine, sessions, out) else NOT_WELL
        if args.sessions:
            write_sessions(reader, out)
        elif args.form == "tape":
            _check_tape(args)
            write_tape(engine, _chosen(args, reader), out)
        elif args.form == "layout":
            out.write(_chosen(args, reader).layout_toml)
        else:
            _list(reader, args, out)
    finally:
        reader.close()
    return DONE


def _list(reader: Reader, args: argparse.Namespace, out: TextIO) -> None:
    session, choice = _chosen(args, reader), _choice(args)
    choice.of(session)
    lister = Lister(reader, choice, _form(args.form, choice, out), out)
    if args.follow:
        lister.follow(session, newest=args.session is None)
    else:
        lister.write(session)


def _choice(args: argparse.Namespace) -> Choice:
    return Choice(args.spur, args.rule, args.what, args.since, args.until)


def _form(name: str, choice: Choice, out: TextIO) -> Form:
    match name:
        case "csv":
            return Table(out)
        case "json":
            return Lines(out)
        case _:
            return Text(out, remarks=choice.is_everything)


def _check_tape(args: argparse.Namespace) -> None:
    if args.follow or not _choice(args).is_everything:
        raise LogbookError(
            "a tape is whole or it does not replay: leave out --follow, --spur, --rule, --what, "
            "--since and --until"
        )


def _chosen(args: argparse.Namespace, reader: Reader) -> SessionRecord:
    if args.session is None:
        newest = reader.session()
        if newest is None:
            raise LogbookError(f"{args.logbook}: it holds no session yet; spurlock run begins one")
        return newest
    for session in reader.sessions(MOST):
        if session.id == args.session:
            return session
    raise LogbookError(f"{args.logbook}: there is no session {args.session}; --sessions lists them")


def _prune(logbook: str, days: float, *, agreed: bool) -> int:
    open_to_read(logbook).dispose()  # Pruning makes no logbook where there is none.
    engine = open_engine(logbook)
    try:
        old = older_than(engine, days, time.time_ns() // 1_000)
        if not old:
            print(f"No session is older than {days:g} days; the newest is kept in any case.")
            return DONE
        for session in old:
            print(session_words(session))
        if not agreed and not _yes(f"Remove {len(old)} of the sessions for good? (yes or no) "):
            print("Nothing was removed.")
            return NOT_WELL
        for session in old:
            prune(engine, session)
        trouble = free_space(engine)
    finally:
        engine.dispose()
    kept = f"; the file stays as large as it was for now: {trouble}" if trouble else ""
    print(printable(f"Removed: {len(old)}{kept}."))
    return DONE


def _yes(question: str) -> bool:
    try:
        return input(question).strip().lower() in {"y", "yes"}
    except EOFError:
        return False


def _days(text: str) -> float:
    try:
        days = float(text)
    except ValueError:
        days = -1.0
    if not 0 <= days <= 100_000:
        raise argparse.ArgumentTypeError(f"{text!r} is no number of days; give one such as 365")
    return days
