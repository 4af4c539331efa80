"""``spurlock run``: the appliance, an engine and a screen that each can die and come back."""

from __future__ import annotations

import argparse
import ipaddress
import sys
from collections.abc import Sequence
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING

from firmware_py.logbook.peeking import shows_pin
from firmware_py.proof.keeping import verdict_path
from firmware_py.service.parting import PARTS_OF_BOX, Part, become
from firmware_py.service.starting import Appliance, courier_of, free_port, serve
from firmware_py.service.supervisor import Child

if TYPE_CHECKING:
    Subparsers = argparse._SubParsersAction[argparse.ArgumentParser]

UNREADABLE = 2
REFUSED = 1
"""The proof of the layout failed, and nobody said to go on."""
HOST, PORT = "127.0.0.1", 8080
ALONE = "on this machine alone."

DESCRIPTION = """\
Guard a layout: read its contacts, drive its lamps, bolts and power, keep its
log, and serve the host's board, until Ctrl-C.

Two processes run: the engine, which owns the pins, and the screen. If either
dies it is started again, and the other goes on. When the engine stops, bolts
shut, power goes off and red is lit; a dark lamp means the same as a red one.

A layout whose proof ("spurlock prove") found it to show safe when it is not is
refused, unless --go-on is given; the board says how the proof stands.

The board is served on this machine alone unless --host says otherwise. Whoever
can open the board may watch; what is the host's to do needs the host PIN, which
"spurlock pin" sets. Keep the board on a network of your own.
"""

EXAMPLES = """\
examples:
  spurlock run my-layout.toml                   on a Raspberry Pi's real pins
  spurlock run my-layout.toml --simulated       with hands on the bench page
  spurlock run my-layout.toml --host 0.0.0.0    let phones on your network see it
"""


def add_parser(subparsers: Subparsers) -> None:
    """Add the command to the console script's parser."""
    parser = subparsers.add_parser(
        "run",
        help="guard a layout: the appliance itself",
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
    parser.add_argument(
        "--minutes", type=_minutes, metavar="N", help="end the session after so many minutes"
    )
    parser.add_argument(
        "--part",
        choices=[part.value for part in PARTS_OF_BOX],
        help="engine, screen or courier alone, for a service manager that watches over each",
    )
    parser.add_argument(
        "--go-on", action="store_true", help="guard a layout though its proof has failed"
    )
    add_address(parser)
    parser.set_defaults(run=run)


def add_address(parser: argparse.ArgumentParser) -> None:
    """Add where the screen listens."""
    parser.add_argument("--host", default=HOST, help=f"where the screen listens ({HOST})")
    parser.add_argument(
        "--port",
        type=port_of,
        default=PORT,
        help=f"its port ({PORT}, or a free one if that is taken)",
    )


def run(args: argparse.Namespace) -> int:
    """Run the command; the answer is the exit status."""
    logbook = args.logbook or str(args.layout.with_suffix(".sqlite"))
    if not args.go_on and is_forbidden(args.layout, logbook):
        return REFUSED
    if args.part is not None:
        return run_part(args)
    try:
        port = free_port(args.host, args.port)
    except OSError as error:
        print(f"--host {args.host}: {error.strerror or error}", file=sys.stderr)
        return UNREADABLE
    print("\n".join(greeting(args.host, port, logbook)), flush=True)
    appliance = Appliance(
        args.layout, logbook, args.simulated, args.host, port, minutes=args.minutes
    )
    say = partial(print, file=sys.stderr, flush=True)
    return serve(appliance, say, partial(whats_beside, appliance))


def is_forbidden(layout: Path, logbook: str) -> bool:
    """Whether a kept proof says of this layout that it must not be guarded; says so itself.

    Where none is kept nothing is loaded for it, and the lamps don't wait.
    """
    path = verdict_path(logbook)
    if path is None or not path.exists():
        return False
    from firmware_py.layout.errors import LayoutError  # noqa: PLC0415
    from firmware_py.layout.reading import read_layout  # noqa: PLC0415
    from firmware_py.proof.verdict import kept, words_on  # noqa: PLC0415

    try:
        verdict = kept(path, read_layout(layout))
    except LayoutError:
        return False  # The engine says what is wrong with it.
    if verdict is None or not verdict.forbids:
        return False
    print(words_on(verdict), flush=True)
    print("Mend the layout, or give --go-on to guard it all the same.", file=sys.stderr)
    return True


def whats_beside(appliance: Appliance) -> Sequence[Child] | None:
    """What else runs beside engine and screen; ``None`` for a layout that can't be read.

    What is wrong with that, the engine says.
    """
    # Loaded while the engine begins: before it, these would only keep the lamps waiting.
    from firmware_py.layout.errors import LayoutError  # noqa: PLC0415
    from firmware_py.layout.reading import read_layout  # noqa: PLC0415
    from firmware_py.proof.verdict import kept, words_on  # noqa: PLC0415

    try:
        layout = read_layout(appliance.layout)
    except LayoutError:
        return None
    print(words_on(kept(verdict_path(appliance.logbook), layout)), flush=True)
    return () if layout.node is None else (courier_of(appliance),)


def run_part(args: argparse.Namespace) -> int:
    """Be one of the processes. What is wrong with the layout, the engine says itself."""
    logbook = args.logbook or str(args.layout.with_suffix(".sqlite"))
    appliance = Appliance(
        args.layout, logbook, args.simulated, args.host, args.port, minutes=args.minutes
    )
    try:
        become(Part(args.part), appliance)
    except OSError as error:
        print(f"{sys.executable}: {error.strerror or error}", file=sys.stderr)
    return UNREADABLE


def greeting(host: str, port: int, logbook: str) -> list[str]:
    """Where the screen listens, who can watch there, and whether anyone can act as the host."""
    where = f"[{host}]:{port}" if ":" in host else f"{host}:{port}"
    return [f"The screen listens at {where}, {_reach(host)}", _pin(logbook)]


def _reach(host: str) -> str:
    try:
        address = ipaddress.ip_address(host)
    except ValueError:
        own = host.lower() == "localhost"
        return ALONE if own else "by that name's address: anyone on its network can watch."
    if address.is_loopback:
        return ALONE
    if address.is_unspecified:
        return "on every network that this machine is on: anyone there can watch."
    return "on the network of that address: anyone there can watch."


def _pin(logbook: str) -> str:
    if shows_pin(logbook):
        return "A host PIN is set: only who gives it can act as the host."
    return f"No host PIN is set, so nobody can act as the host yet. Set one: spurlock pin {logbook}"


def port_of(text: str) -> int:
    """A port as it is typed. Raises ``ArgumentTypeError``."""
    if not text.isdecimal() or int(text) > 65535:
        raise argparse.ArgumentTypeError(f"{text!r} is not a port; give a number from 0 to 65535")
    return int(text)


def _minutes(text: str) -> float:
    try:
        minutes = float(text)
    except ValueError:
        minutes = 0.0
    if not 0 < minutes <= 1440:
        raise argparse.ArgumentTypeError(f"{text!r} is not a length; give 1 to 1440 minutes")
    return minutes
