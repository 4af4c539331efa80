"""The page on a phone: its options, the screen's process, and where a phone finds it."""

from __future__ import annotations

import argparse
import contextlib
import ipaddress
import signal
import socket
import sys
import time
from collections.abc import Callable, Iterator
from types import FrameType

import segno
import sqlalchemy

from firmware_py.commands.run import PORT, greeting, port_of
from firmware_py.logbook.screen.pin import draw_pin
from firmware_py.service.screening import Screen
from firmware_py.service.starting import Appliance, free_port

EVERYWHERE = "0.0.0.0"
PATH = "/commission"
LAST_WORD_S = 0.5
"""The screen stays so long after the end, so that its pages hear of it."""
NOWHERE = ("192.0.2.1", 9)
"""An address for examples (RFC 5737). Asking by which way it would be reached sends nothing."""


def add_phone(parser: argparse.ArgumentParser) -> None:
    """Add the options of the page."""
    parser.add_argument("--phone", action="store_true", help="serve a page that leads as well")
    parser.add_argument(
        "--host", help=f"where that page is served ({EVERYWHERE}: on every network)"
    )
    parser.add_argument(
        "--port", type=port_of, help=f"its port ({PORT}, or a free one if that is taken)"
    )


def misplaced(args: argparse.Namespace) -> str | None:
    """What is wrong with these options taken together; ``None`` if nothing is."""
    if args.phone or (args.host is None and args.port is None):
        return None
    return "--host and --port are of the page on a phone: give --phone as well"


@contextlib.contextmanager
def serving(
    database: sqlalchemy.Engine, logbook: str, args: argparse.Namespace, say: Callable[[str], None]
) -> Iterator[Screen]:
    """A screen that runs while this lasts; says where, and draws a PIN where there is none.

    SIGTERM ends the command as Ctrl-C does, so that outputs are made safe. Raises ``OSError``
    for a ``--host`` that is no address of this machine.
    """
    host = args.host or EVERYWHERE
    try:
        port = free_port(host, PORT if args.port is None else args.port)
    except OSError as error:
        raise OSError(f"--host {host}: {error.strerror or error}") from error
    drawn = draw_pin(database)
    appliance = Appliance(args.layout, logbook, args.simulated, host, port)
    signal.signal(signal.SIGTERM, _interrupt)
    where, pin = greeting(host, port, logbook)
    say(where)
    asks = "The page asks for it; it stays this logbook's."
    say(f"The host PIN is {drawn}. {asks}" if drawn else pin)
    url = page_address(host, port)
    say(f"On the phone: {url}")
    if sys.stdout.isatty():
        segno.make_qr(url, error="l").terminal(compact=True)
    screen = Screen(appliance.screen_command, say)
    try:
        yield screen
    finally:
        time.sleep(LAST_WORD_S)
        screen.stop()


def page_address(host: str, port: int) -> str:
    """The page's address, as a phone in the same network can reach it."""
    with contextlib.suppress(ValueError):
        if ipaddress.ip_address(host).is_unspecified:
            host = _own_address()
    shown = f"[{host}]" if ":" in host else host
    return f"http://{shown}:{port}{PATH}"


def _own_address() -> str:
    """The address of this machine on its network, or else its name there."""
    with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as asking, contextlib.suppress(OSError):
        asking.connect(NOWHERE)
        return str(asking.getsockname()[0])
    return f"{socket.gethostname().partition('.')[0]}.local"


def _interrupt(_signal: int, _frame: FrameType | None) -> None:
    raise KeyboardInterrupt
