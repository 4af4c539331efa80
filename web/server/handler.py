"""One connection: its requests are read against the clock, and its stream ends with its client."""

from __future__ import annotations

import contextlib
import socket
from collections.abc import Iterator
from email.errors import (
    FirstHeaderLineIsContinuationDefect,
    MisplacedEnvelopeHeaderDefect,
    MissingHeaderBodySeparatorDefect,
)
from io import BufferedIOBase, BytesIO
from types import TracebackType
from typing import TYPE_CHECKING, Literal, cast

import gevent
from gevent import Timeout
from gevent.pywsgi import OldMessage, WSGIHandler

from web.server.answers import Streamed
from web.server.refusals import BAD, LARGE, LATE

if TYPE_CHECKING:
    from _typeshed.wsgi import WSGIEnvironment

    from web.server.server import Server

REQUEST_WITHIN_S = 10.0
"""For the whole of a request: its line, its headers and its body."""
STALLED_AFTER_S = 15.0
"""A client that takes nothing for so long is cut off."""
LARGEST_BODY = 128 * 1024
"""Bytes of any request's body: more is not even received. Routes hold it to less."""
LINGER_S = 2.0
READABLE = 1
NO_HEADER = (
    FirstHeaderLineIsContinuationDefect,
    MisplacedEnvelopeHeaderDefect,
    MissingHeaderBodySeparatorDefect,
)
"""Of the parser's complaints those about lines; that a form's parts are not there yet is none."""

Handled = tuple[str, bytes] | Literal[True] | None


class _RefusedError(Exception):
    """The request never gets as far as the application; the ``answer`` says why."""

    def __init__(self, answer: bytes) -> None:
        super().__init__()
        self.answer = answer


class Handler(WSGIHandler):
    """Serves the requests of one connection, one after another."""

    _began = False
    _late: Timeout | None = None

    def handle(self) -> None:
        """Serve until either end closes."""
        self.socket.settimeout(STALLED_AFTER_S)
        super().handle()

    def handle_one_request(self) -> Handled:
        """Read a request, answer it, and say whether another may follow."""
        self._began = False
        with Timeout(REQUEST_WITHIN_S) as self._late, self._server.reading():
            try:
                return super().handle_one_request()
            except _RefusedError as refused:
                self._send_last(refused.answer)
                return None
            except OSError:
                return "400", BAD
            except Timeout as late:
                if late is not self._late:
                    raise
                return ("408", LATE) if self._began else None

    def read_requestline(self) -> str:
        """The first line of a request; empty where the client has closed."""
        self._began = bool(self.rfile.peek(1))
        return super().read_requestline()

    def read_request(self, raw_requestline: str) -> OldMessage:
        """The headers. Raises ``ValueError`` for what is answered 400."""
        read = super().read_request(raw_requestline)
        if self.request_version == "HTTP/0.9":
            raise ValueError("of before there were headers, a host's name among them")
        return read

    def MessageClass(self, *source: BufferedIOBase | int) -> OldMessage:  # noqa: N802 - pywsgi's own name for it
        """The headers as they came. Raises ``ValueError`` where a body's length is in doubt.

        What two readers of one request understand differently, the second may take for another
        request (RFC 9112 section 6.3 has such a one refused, or the connection closed).
        """
        headers = super().MessageClass(cast("BufferedIOBase", source[0]))
        lengths = headers.get_all("content-length", [])
        coded = headers.get_all("transfer-encoding", [])
        if len(lengths) + len(coded) > 1 or any(one.lower() != "chunked" for one in coded):
            raise ValueError("a length in two ways, or in one that is not known")
        if not all(one.isascii() and one.isdigit() for one in lengths):
            raise ValueError("a length that is no number")
        if headers.get_payload() or any(isinstance(one, NO_HEADER) for one in headers.defects):
            # What comes after a line that is no header would be taken for no header either.
            raise ValueError("a line among the headers that is none")
        return headers

    def get_environ(self) -> WSGIEnvironment:
        """What the application gets, once the whole request has been read."""
        environ = super().get_environ()
        environ["wsgi.input"] = BytesIO(self._body())
        environ["wsgi.input_terminated"] = True
        assert self._late is not None, "the clock runs while a request is read"
        self._late.cancel()
        self._server.has_read()
        return environ

    def _body(self) -> bytes:
        assert self.wsgi_input is not None, "it was made just now"
        if (self.content_length or 0) > LARGEST_BODY:
            raise _RefusedError(LARGE)
        body = self.wsgi_input.read(LARGEST_BODY + 1)
        if len(body) > LARGEST_BODY:
            raise _RefusedError(LARGE)
        return body

    def process_result(self) -> None:
        """Send the answer; a stream is ended as soon as its client hangs up."""
        if not isinstance(self.result, Streamed):
            super().process_result()
            return
        with self._ending_with_client():
            super().process_result()

    @contextlib.contextmanager
    def _ending_with_client(self) -> Iterator[None]:
        """Whatever comes from the client of a stream is its end: there is nothing to say."""
        streaming = cast("gevent.Greenlet[..., object]", gevent.getcurrent())
        watcher = self.server.loop.io(self.socket.fileno(), READABLE)
        watcher.start(lambda: streaming.kill(block=False))
        try:
            yield
        finally:
            watcher.stop()
            watcher.close()

    def handle_error(
        self,
        t: type[BaseException] | None,
        v: BaseException | None,
        tb: TracebackType | None,
    ) -> None:
        """Tell of trouble of our own; that a client has gone is none."""
        if isinstance(v, (TimeoutError, ConnectionError)):
            self.close_connection = True
            return
        super().handle_error(t, v, tb)

    def _handle_client_error(self, _error: Exception) -> Handled:
        return "400", BAD

    def log_error(self, msg: str, *args: object) -> None:
        """Nothing: a client's mistakes would fill the journal."""

    @property
    def _server(self) -> Server:
        return cast("Server", self.server)

    def _send_last(self, answer: bytes) -> None:
        """Answer, and let what is still being sent run out for a moment, so that it is read."""
        with contextlib.suppress(OSError, Timeout), Timeout(LINGER_S):
            self.socket.sendall(answer)
            self.socket.shutdown(socket.SHUT_WR)
            while self.socket.recv(64 * 1024):
                pass
