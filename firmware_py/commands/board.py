"""``spurlock board``: one board, one log, for the many boxes of a club."""

from __future__ import annotations

import argparse
import os
import sys
import time
from pathlib import Path
from typing import TYPE_CHECKING

from firmware_py.club.credentials import ClubError
from firmware_py.commands.run import add_address, greeting
from firmware_py.gathering.board_file import read_board
from firmware_py.layout.errors import LayoutError
from firmware_py.service.parting import PARTS_OF_BOARD, Part, become, patience_s
from firmware_py.service.starting import BoardHost, free_port, serve_board

if TYPE_CHECKING:
    Subparsers = argparse._SubParsersAction[argparse.ArgumentParser]

UNREADABLE = 2

DESCRIPTION = """\
Gather the logs of a club's boxes through an MQTT broker into one database, and
serve one board for all of them, until Ctrl-C. Each box goes on by itself
whatever becomes of this: it needs nobody to guard its spurs.

The board's file (TOML) names the broker and the database:

  [board]
  name = "board"                      # logs in by this name
  title = "Vale Club"
  broker = "broker.local"             # TLS, port 8883, unless tls = false
  credentials = "board.credentials"   # password = "...", for your eyes only
  logbook = "board.sqlite"            # or postgresql+psycopg:///spurlock

  [[key]]                             # a key that hangs at one box
  key = "west-room--yard-key"         # and fits at another
  fits = ["east-room--mill-switch"]
"""

EXAMPLES = """\
examples:
  spurlock board club.toml                 on this machine alone
  spurlock board club.toml --host 0.0.0.0  for the phones on your network
  spurlock club                            try it: broker, boxes and board
"""


def add_parser(subparsers: Subparsers) -> None:
    """Add the command to the console script's parser."""
    parser = subparsers.add_parser(
        "board",
        help="serve one board for the many boxes of a club",
        description=DESCRIPTION,
        epilog=EXAMPLES,
        formatter_class=argparse.RawDescriptionHelpFormatter,
    )
    parser.add_argument("board", metavar="FILE", type=Path, help="the board's file (TOML)")
    parser.add_argument(
        "--part",
        choices=[part.value for part in PARTS_OF_BOARD],
        help="gatherer or screen alone, for a service manager that watches over each",
    )
    add_address(parser)
    parser.set_defaults(run=run)


def run(args: argparse.Namespace) -> int:
    """Run the command; the answer is the exit status."""
    try:
        board = read_board(args.board)
        if args.part is not None:
            return _run_part(BoardHost(args.board, board.database, args.host, args.port), args)
        board.broker()
        port = free_port(args.host, args.port)
    except (LayoutError, ClubError) as error:
        print(error, file=sys.stderr)
        if args.part is not None:
            time.sleep(patience_s(os.environ, time.monotonic()))
        return UNREADABLE
    except OSError as error:
        print(f"--host {args.host}: {error.strerror or error}", file=sys.stderr)
        return UNREADABLE
    print("\n".join(greeting(args.host, port, board.database)), flush=True)
    return serve_board(
        BoardHost(args.board, board.database, args.host, port),
        lambda text: print(text, file=sys.stderr, flush=True),
    )


def _run_part(host: BoardHost, args: argparse.Namespace) -> int:
    """Be one of the processes. What is wrong with the password, the gatherer says itself."""
    try:
        become(Part(args.part), host)
    except OSError as error:
        print(f"{sys.executable}: {error.strerror or error}", file=sys.stderr)
    return UNREADABLE
