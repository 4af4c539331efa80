"""``spurlock commission``: leads a builder through every wire, and keeps the record."""

from __future__ import annotations

import argparse
import sys
import time
from datetime import UTC, datetime, timedelta
from pathlib import Path
from shlex import quote
from typing import TYPE_CHECKING, TextIO

import msgspec
import sqlalchemy
from gpiozero import GPIOZeroError

from firmware_py.commands.commission_busy import engine_on
from firmware_py.commands.commission_pages import Pages
from firmware_py.commands.commission_phone import Phone
from firmware_py.commands.commission_record import print_record, sign, usual
from firmware_py.commands.commission_screen import add_phone, misplaced, serving
from firmware_py.commands.commission_sitting import Sitting
from firmware_py.commands.commission_words import Ended
from firmware_py.commissioning.model import Evidence
from firmware_py.commissioning.showing import about_of
from firmware_py.layout.errors import LayoutError, printable
from firmware_py.layout.model import Layout
from firmware_py.layout.reading import read_layout
from firmware_py.logbook import commissioning as kept
from firmware_py.logbook.errors import LogbookError
from firmware_py.logbook.opening import open_engine, open_to_read
from firmware_py.logbook.sitting import forget_sitting
from firmware_py.pins.board import Board
from firmware_py.pins.chardev import CharDevFactory
from firmware_py.pins.expanders.choosing import LayoutFactory, factory_for
from firmware_py.pins.mock import SimulatedFactory
from firmware_py.pins.wiring import PinsError

if TYPE_CHECKING:
    Subparsers = argparse._SubParsersAction[argparse.ArgumentParser]

IN_ORDER, NOT_IN_ORDER, REFUSED = 0, 1, 2
"""Exit statuses."""

DAYS = 365
LISTEN_S = 10

DESCRIPTION = """\
Prove every wire of a layout. You are led through each contact ("close the
hasp ... now open it") and each output ("is the red lamp lit?") while all
contacts are watched. What is wrong is named: swapped wires and with which,
inverted, dead and stuck ones, two that move together, contacts that bounce
too long (with a settle time proposed), noisy leads, lamps wired to another's
pin. A contact that moves as it should brings the next instruction by itself.

Everything is kept at each step: stop when you like, and give the same command
to go on. At the end a record is signed and kept in the logbook.

With --phone a page leads as well, for whoever is under the benchwork: it is
served while the test goes on, and its address is printed. Phone and terminal
may both answer; the first answer to a step counts. The page asks for the host
PIN once; where none was set yet, one is drawn and printed.

The pins must be free: it does not run beside "spurlock run". Bolts, track
power and buzzers are driven one at a time when they are asked about; see that
they can do no harm. When it ends, bolts shut, power goes off and red is lit.

The exit status is 0 for a record that says "in order" (or for --record), 1
for one with faults or untested wires, or none yet, and 2 if it can't run.
"""

EXAMPLES = """\
examples:
  spurlock commission my-layout.toml --by "N. Tallow"
                                 on a Raspberry Pi's real pins
  spurlock commission my-layout.toml --phone
                                 and answer on a phone in the same network
  spurlock commission my-layout.toml --simulated
                                 on simulated pins: "do" moves them
  spurlock commission my-layout.toml --record
                                 print the last record
"""


def add_parser(subparsers: Subparsers) -> None:
    """Add the command to the console script's parser."""
    parser = subparsers.add_parser(
        "commission",
        help="prove every wire, and keep the record",
        description=DESCRIPTION,
        epilog=EXAMPLES,
        formatter_class=argparse.RawDescriptionHelpFormatter,
    )
    parser.add_argument("layout", metavar="LAYOUT", type=Path, help="the layout file (TOML)")
    parser.add_argument("--simulated", action="store_true", help="simulated pins, no hardware")
    parser.add_argument(
        "--logbook",
        metavar="FILE",
        help="the logbook: a SQLite file or any SQLAlchemy URL (LAYOUT's name, ending .sqlite)",
    )
    parser.add_argument("--by", metavar="NAME", help="who tests, for the record")
    parser.add_argument("--place", metavar="TEXT", help="where, for the record (the layout)")
    parser.add_argument(
        "--listen",
        type=_seconds,
        default=LISTEN_S,
        metavar="SECONDS",
        help=f"how long leads are listened to for noise ({LISTEN_S})",
    )
    parser.add_argument(
        "--days", type=_days, default=DAYS, metavar="N", help=f"days until the next one ({DAYS})"
    )
    parser.add_argument("--anew", action="store_true", help="begin anew, not where it was left")
    parser.add_argument("--record", action="store_true", help="print the last record, no more")
    add_phone(parser)
    parser.set_defaults(run=run)


def run(args: argparse.Namespace) -> int:
    """Run the command; the answer is the exit status."""
    logbook = args.logbook or str(args.layout.with_suffix(".sqlite"))
    wrong = misplaced(args)
    if wrong is not None:
        print(wrong, file=sys.stderr)
        return REFUSED
    try:
        layout = read_layout(args.layout)
        if args.record:
            return _print_last(logbook, layout, sys.stdout)
        busy = engine_on(logbook)
        if busy is not None:
            print(busy, file=sys.stderr)
            return REFUSED
        database = open_engine(logbook)
    except (LayoutError, LogbookError) as error:
        print(error, file=sys.stderr)
        return REFUSED
    factory = _factory(layout, simulated=args.simulated)
    try:
        board = Board(layout, factory)
        try:
            return _sit(args, layout, board, database, logbook)
        finally:
            board.close()
    except (PinsError, GPIOZeroError, LogbookError, OSError) as error:
        print(error, file=sys.stderr)
        return REFUSED
    finally:
        factory.close()
        database.dispose()


def _factory(
    layout: Layout, *, simulated: bool
) -> SimulatedFactory | CharDevFactory | LayoutFactory:
    return SimulatedFactory() if simulated else factory_for(layout.chips, CharDevFactory())


def _sit(
    args: argparse.Namespace, layout: Layout, board: Board, database: sqlalchemy.Engine, url: str
) -> int:
    simulated = board.simulated
    earlier = None if args.anew else kept.unfinished(database, layout.name, simulated=simulated)
    evidence = None
    if earlier is not None:
        evidence = msgspec.json.decode(earlier.evidence, type=Evidence)
        number = earlier.id
        print("Going on where it was left (--anew begins anew).")
    else:
        number = kept.begin(database, layout.name, simulated=simulated, wall_us=_wall_us())
    sitting = Sitting(
        layout,
        board,
        evidence,
        keep=lambda seen: kept.keep(database, number, msgspec.json.encode(seen).decode()),
        out=sys.stdout,
        listen_s=args.listen,
    )
    if not args.phone:
        forget_sitting(database)
        return _to_the_end(args, layout, sitting, database, number)
    about = about_of(sitting.commission.wires, layout.name, _again(args), simulated=simulated)
    with serving(database, url, args, sitting.say) as screen:
        phone = Phone(database, (url, number, about), say=sitting.say, tend=screen.tend)
        sitting.pages = Pages(phone, lambda commission: usual(args, layout, commission))
        try:
            return _to_the_end(args, layout, sitting, database, number)
        finally:
            board.safe()  # Before the screen's last word, which takes a moment.
            sitting.pages.close(sitting)


def _to_the_end(
    args: argparse.Namespace,
    layout: Layout,
    sitting: Sitting,
    database: sqlalchemy.Engine,
    number: int,
) -> int:
    """Let a sitting go on until it ends, and keep its record if somebody signs one."""
    ended = sitting.run(sys.stdin)
    if ended is Ended.STOPPED:
        print(printable(f"Stopped; all that was seen is kept. To go on: {_again(args)}"))
        return NOT_IN_ORDER
    now = datetime.now(UTC)
    due = now + timedelta(days=args.days)
    signed = sign(args, layout, sitting, ended, (_us(now), _us(due)))
    if signed is None:
        print("Nobody has signed, so there is no record; all that was seen is kept.")
        return NOT_IN_ORDER
    commission = sitting.commission
    findings = msgspec.json.encode(commission.findings()).decode()
    seen = msgspec.json.encode(commission.evidence).decode()
    kept.sign(database, number, seen, findings, signed)
    print_record(kept.records(database, layout.name, limit=1)[0], sys.stdout)
    sound = not commission.findings() and not commission.evidence.skipped
    if sitting.pages is not None:
        sitting.pages.kept()
        sitting.linger(number, "The phone has the record too, to print it. Enter ends this.")
    return IN_ORDER if sound else NOT_IN_ORDER


def _again(args: argparse.Namespace) -> str:
    """The command that goes on with a sitting."""
    options = [f"--{name}" for name in ("simulated", "phone") if getattr(args, name)]
    return " ".join(("spurlock commission", quote(str(args.layout)), *options))


def _print_last(logbook: str, layout: Layout, out: TextIO) -> int:
    database = open_to_read(logbook)
    try:
        found = kept.records(database, layout.name, limit=1)
    finally:
        database.dispose()
    if not found:
        print(f"{layout.name} has no record yet; make one with: spurlock commission", file=out)
        return NOT_IN_ORDER
    print_record(found[0], out)
    return IN_ORDER


def _us(when: datetime) -> int:
    return int(when.timestamp() * 1_000_000)


def _wall_us() -> int:
    return time.time_ns() // 1000


def _seconds(text: str) -> int:
    return _whole(text, 1, 600, "seconds")


def _days(text: str) -> int:
    return _whole(text, 1, 3660, "days")


def _whole(text: str, low: int, high: int, unit: str) -> int:
    if not text.isdecimal() or not low <= int(text) <= high:
        raise argparse.ArgumentTypeError(f"{text!r} is none of {low} to {high} {unit}")
    return int(text)
