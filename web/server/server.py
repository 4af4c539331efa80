"""The server: it takes connections up to a bound, and stops when any thread says so."""

from __future__ import annotations

import contextlib
import socket
import sys
from collections.abc import Iterator
from typing import TYPE_CHECKING, cast

import gevent
from gevent import Greenlet
from gevent.pool import Pool
from gevent.pywsgi import WSGIServer
from gevent.socket import socket as LoopSocket  # noqa: N812 - it is a class

from web.server.answers import Aside
from web.server.handler import Handler
from web.server.loop import Loop
from web.server.refusals import BUSY

if TYPE_CHECKING:
    from _typeshed.wsgi import WSGIApplication

END_WITHIN_S = 0.5
"""What is being answered when the server stops has so long to come to its end."""


class Server(WSGIServer):
    """Serves an application at a listening socket, which it takes over.

    At most ``most`` connections are open. One more takes the place of the one that has been
    longest about its request; where all are being answered, it is refused with a word.
    """

    handler_class = Handler

    def __init__(
        self, listening: socket.socket, app: WSGIApplication, loop: Loop, most: int
    ) -> None:
        self._most = most
        self._reading: dict[Greenlet[..., object], None] = {}
        host = str(listening.getsockname()[0])
        taken = LoopSocket(listening.family, listening.type, fileno=listening.detach())
        super().__init__(
            taken,
            Aside(app, loop),
            spawn=Pool(),
            log=None,
            error_log=None,
            environ={"SERVER_NAME": host, "wsgi.errors": sys.stderr, "wsgi.multithread": True},
        )
        self._stop = gevent.get_hub().loop.async_()
        self._stop.start(lambda: gevent.spawn(self.stop))

    def stop_soon(self) -> None:
        """Stop. For any thread; ``serve_forever`` returns once all connections have ended."""
        self._stop.send()

    def stop(self, timeout: float | None = None) -> None:
        """Take no more connections, and end those there are."""
        self.close()
        for idle in list(self._reading):
            idle.kill(block=False)
        super().stop(END_WITHIN_S if timeout is None else timeout)

    def do_handle(self, sock: LoopSocket, address: tuple[str, int]) -> None:
        """Serve a new connection, or refuse it. In the loop itself: nothing here may wait."""
        assert self.pool is not None, "it was given one"
        if len(self.pool) >= self._most and not self._make_room():
            with contextlib.suppress(OSError):
                sock.send(BUSY)
            sock.close()
            return
        super().do_handle(sock, address)

    @contextlib.contextmanager
    def reading(self) -> Iterator[None]:
        """While the calling greenlet reads a request, it may be made to give up its place."""
        self._reading[_current()] = None
        try:
            yield
        finally:
            self.has_read()

    def has_read(self) -> None:
        """The calling greenlet has its request: it is not disturbed any more."""
        self._reading.pop(_current(), None)

    def _make_room(self) -> bool:
        oldest = next(iter(self._reading), None)
        if oldest is None:
            return False
        del self._reading[oldest]
        oldest.kill(block=False)
        return True


def _current() -> Greenlet[..., object]:
    return cast("Greenlet[..., object]", gevent.getcurrent())
