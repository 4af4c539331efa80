"""``spurlock replay``: plays a tape and prints what would have happened, line by line."""

from __future__ import annotations

import argparse
import os
import sys
from collections.abc import Iterable
from pathlib import Path
from typing import TYPE_CHECKING, BinaryIO, TextIO

from firmware_py.core.entries import Entry, What
from firmware_py.layout.errors import LayoutError, printable
from firmware_py.layout.model import Layout
from firmware_py.layout.reading import read_layout
from firmware_py.tape.errors import TapeError
from firmware_py.tape.lines import text_of, what_of
from firmware_py.tape.reading import TapeReader
from firmware_py.tape.replay import replay as play

if TYPE_CHECKING:
    Subparsers = argparse._SubParsersAction[argparse.ArgumentParser]

PLAYED, UNREADABLE = 0, 2
"""Exit statuses; what the crew did wrong is no error of the tape's."""

DESCRIPTION = """\
Play a tape (JSON Lines: readings of contacts, and commands) through the same
rules that guard the real spurs, and print what happens as JSON Lines: stages,
phases, violations, faults, speeds, foremen, brake tests, outputs, refusals.

A tape may be of any length; it is played as it is read. "-" reads it from
standard input. The exit status is 0 whatever the crew did, and 2 with one line
"file:line: what is wrong and what would be right" where the layout or the tape
can't be read; what happened before a tape's broken line is printed first.
"""

EXAMPLES = """\
examples:
  spurlock replay my-layout.toml evening.jsonl
  spurlock replay my-layout.toml evening.jsonl --only violation,stage
"""


def add_parser(subparsers: Subparsers) -> None:
    """Add the command to the console script's parser."""
    parser = subparsers.add_parser(
        "replay",
        help="play a tape of readings and print what happens",
        description=DESCRIPTION,
        epilog=EXAMPLES,
        formatter_class=argparse.RawDescriptionHelpFormatter,
    )
    parser.add_argument("layout", metavar="LAYOUT", type=Path, help="the layout file (TOML)")
    parser.add_argument("tape", metavar="TAPE", help='the tape (JSON Lines), or "-"')
    parser.add_argument(
        "--only",
        metavar="KINDS",
        type=kinds,
        default=frozenset(What),
        help=f"print these kinds alone, joined by commas: {', '.join(What)}",
    )
    parser.set_defaults(run=run)


def kinds(text: str) -> frozenset[What]:
    """The kinds named in ``--only``; raises ``ArgumentTypeError`` for one there isn't."""
    words = [word.strip() for word in text.split(",") if word.strip()]
    strange = [word for word in words if word not in set(What)]
    if strange or not words:
        wrong = f"there is no kind {strange[0]!r}" if strange else "no kind is named"
        raise argparse.ArgumentTypeError(f"{wrong}; there are {', '.join(What)}")
    return frozenset(What(word) for word in words)


def run(args: argparse.Namespace) -> int:
    """Run the command; the answer is the exit status."""
    try:
        layout = read_layout(args.layout)
        if args.tape == "-":
            return _replay(layout, sys.stdin.buffer, "standard input", args.only)
        with Path(args.tape).open("rb") as stream:
            return _replay(layout, stream, args.tape, args.only)
    except (LayoutError, TapeError) as error:
        print(error, file=sys.stderr)
    except OSError as error:
        wrong = error.strerror or "it can't be read"
        problem = f"{args.tape}: {wrong}; name a tape file, or - for standard input"
        print(printable(problem), file=sys.stderr)
    return UNREADABLE


def _replay(layout: Layout, stream: BinaryIO, file: str, only: frozenset[What]) -> int:
    entries = play(layout, TapeReader(layout, stream, file))
    try:
        _print(entries, sys.stdout, only)
    except BrokenPipeError:
        # Whoever read us has seen enough; leave nothing for the interpreter to flush at exit.
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
    return PLAYED


def _print(entries: Iterable[Entry], out: TextIO, only: frozenset[What]) -> None:
    everything = len(only) == len(What)
    try:
        for entry in entries:
            if everything or what_of(entry) in only:
                out.write(text_of(entry) + "\n")
    finally:
        out.flush()
