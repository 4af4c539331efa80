"""Serves the screen: ``python -m web --logbook FILE_OR_URL --port N``."""

from __future__ import annotations

import argparse
import contextlib
import logging
import os
import signal
import socket
import sys
import threading
from collections.abc import Iterator
from functools import partial

import gevent

from firmware_py.health.notifying import Notifier
from firmware_py.health.record import EngineHealth, path_of
from firmware_py.logbook.errors import LogbookError
from firmware_py.logbook.opening import open_engine
from firmware_py.logbook.reading import Reader
from firmware_py.logbook.screen.settings import secret
from web.access.door import Door
from web.app import create_app
from web.backstage import Backstage, wall_us
from web.club.follow import ClubFollower
from web.club.reading import ClubReader
from web.live.follow import POLL_S, TROUBLED_S, Follower
from web.live.hub import Hub
from web.server.handler import STALLED_AFTER_S
from web.server.keeping_alive import keep_alive
from web.server.loop import Loop
from web.server.server import Server

MOST_STREAMS = 264
CLUB_POLL_S = 0.05
OTHER_CONNECTIONS = 560
"""Beside the streams: few enough that all of them fit into what a process may have open."""
WORKERS = 8
SEND_BUFFER = 64 * 1024
GIVE_UP_AFTER_S = 1.5
"""A stop waits no longer than this for a disk that does not answer."""


def serve(  # noqa: PLR0913 - each is its own choice
    logbook_url: str,
    host: str = "127.0.0.1",
    port: int = 8080,
    *,
    hands: bool = True,
    most_streams: int = MOST_STREAMS,
    club: bool = False,
) -> None:
    """Serve the screen until SIGTERM or SIGINT; port 0 picks a free one. Prints the address.

    ``hands`` allows hands at contacts, on simulated sessions only. ``club`` is for a board's
    database, into which the logs of many boxes are gathered. Raises ``LogbookError`` for
    a logbook that can't be opened and ``OSError`` for an address that can't be listened at.
    """
    with contextlib.ExitStack() as stack:
        listening = stack.enter_context(listen(host, port))
        engine = open_engine(logbook_url)
        stack.callback(engine.dispose)
        with contextlib.suppress(LogbookError):  # Else it is drawn when it is first needed.
            secret(engine, "link-secret")  # Before anybody looks: looking changes nothing.
        reader = ClubReader(engine) if club else Reader(engine)
        stack.callback(reader.close)
        loop = Loop(WORKERS)
        # Another kind of database can't be asked as cheaply as SQLite.
        poll_s = POLL_S if engine.dialect.name == "sqlite" else TROUBLED_S
        record = path_of(logbook_url, EngineHealth)
        hub = Hub(most_streams, loop)
        follower = (
            ClubFollower(reader, hub, None, CLUB_POLL_S)
            if isinstance(reader, ClubReader)
            else Follower(reader, hub, record, poll_s)
        )
        stack.callback(follower.close)
        app = create_app(Backstage(engine, reader, follower, Door(engine, wall_us=wall_us), hands))
        url = address(listening)
        server = Server(listening, app, loop, most_streams + OTHER_CONNECTIONS)
        stack.enter_context(_stopping(follower, server))
        follower.start()
        print(f"Screen at {url}", flush=True)
        notifier = Notifier()
        stack.callback(notifier.tell, "STOPPING=1")
        keep_alive(notifier, loop, follower.runs, url)
        server.serve_forever()


def listen(host: str, port: int, stalled_after_s: float = STALLED_AFTER_S) -> socket.socket:
    """A listening socket whose connections are cut when their other end stops taking data.

    Where the system can do that (Linux), a browser that hangs does not hold its stream for ever.
    """
    family = socket.AF_INET6 if ":" in host else socket.AF_INET
    listening = socket.socket(family, socket.SOCK_STREAM)
    try:
        listening.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        listening.setsockopt(socket.SOL_SOCKET, socket.SO_SNDBUF, SEND_BUFFER)
        timeout = getattr(socket, "TCP_USER_TIMEOUT", None)
        if timeout is not None:
            listening.setsockopt(socket.IPPROTO_TCP, timeout, round(stalled_after_s * 1_000))
        listening.bind((host, port))
        listening.listen(128)
    except BaseException:
        listening.close()
        raise
    return listening


def address(listening: socket.socket) -> str:
    """The URL of a listening socket."""
    host, port = listening.getsockname()[:2]
    return f"http://[{host}]:{port}/" if ":" in host else f"http://{host}:{port}/"


@contextlib.contextmanager
def _stopping(follower: Follower, server: Server) -> Iterator[None]:
    """While this lasts, SIGTERM and SIGINT end every stream and then the server, at once."""

    def stop() -> None:
        patience = threading.Timer(GIVE_UP_AFTER_S, partial(os._exit, 0))
        patience.daemon = True
        patience.start()
        follower.close()
        server.stop_soon()

    handlers = [gevent.signal_handler(one, stop) for one in (signal.SIGTERM, signal.SIGINT)]
    try:
        yield
    finally:
        for handler in handlers:
            handler.cancel()


def main(arguments: list[str] | None = None) -> int:
    """Read the command line and serve; 2 with one clear line if that can't be done."""
    given = _parser().parse_args(arguments)
    logging.basicConfig(level=logging.WARNING, format="%(name)s: %(message)s")
    try:
        serve(
            given.logbook,
            given.host,
            given.port,
            hands=given.hands,
            most_streams=given.streams,
            club=given.club,
        )
    except LogbookError as trouble:
        print(trouble, file=sys.stderr)
        return 2
    except OSError as trouble:
        where = f"{given.host}:{given.port}"
        print(f"{where}: can't listen there ({trouble.strerror}); give another", file=sys.stderr)
        return 2
    return 0


def _parser() -> argparse.ArgumentParser:
    parser = argparse.ArgumentParser(
        prog="python -m web", description="Serve the host's board and the bench page of a logbook."
    )
    parser.add_argument("--logbook", required=True, help="the logbook: an SQLite file, or a URL")
    parser.add_argument("--host", default="127.0.0.1", help="address to listen at (%(default)s)")
    parser.add_argument(
        "--port", type=_port, default=8080, help="port; 0 picks a free one (%(default)s)"
    )
    parser.add_argument(
        "--streams", type=_streams, default=MOST_STREAMS, help="most open pages (%(default)s)"
    )
    parser.add_argument(
        "--no-hands", dest="hands", action="store_false", help="never let a page move contacts"
    )
    parser.add_argument(
        "--club", action="store_true", help="the logbook is a board's, of many boxes"
    )
    return parser


def _port(text: str) -> int:
    return _between(text, 0, 65_535)


def _streams(text: str) -> int:
    return _between(text, 1, 400)


def _between(text: str, low: int, high: int) -> int:
    if not text.isascii() or not text.isdigit() or not low <= int(text) <= high:
        raise argparse.ArgumentTypeError(f"{text!r} is not a number from {low} to {high}")
    return int(text)
