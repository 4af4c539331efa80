"""Asks the application in a thread, so that a slow disk holds up one request and nothing else."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator
from typing import TYPE_CHECKING

from web.server.loop import Loop

if TYPE_CHECKING:
    from _typeshed import OptExcInfo
    from _typeshed.wsgi import StartResponse, WSGIApplication, WSGIEnvironment

STREAM = "text/event-stream"


class Streamed:
    """The body of an answer that goes on and on: it is made piece by piece in the loop."""

    def __init__(self, body: Iterable[bytes]) -> None:
        self._body = body

    def __iter__(self) -> Iterator[bytes]:
        return iter(self._body)

    def close(self) -> None:
        """End it."""
        _close(self._body)


class Aside:
    """An application over another, whose answers are made in the loop's threads.

    All answers but streams are made whole there.
    """

    def __init__(self, app: WSGIApplication, loop: Loop) -> None:
        self._app = app
        self._loop = loop

    def __call__(self, environ: WSGIEnvironment, start_response: StartResponse) -> Iterable[bytes]:
        """Answer a request."""
        asked = _Asked(self._app, environ)
        body = self._loop.aside(asked.answer)
        start_response(asked.status, asked.headers)
        return body


class _Asked:
    """One request on its way through a thread."""

    def __init__(self, app: WSGIApplication, environ: WSGIEnvironment) -> None:
        self._app = app
        self._environ = environ
        self.status = ""
        self.headers: list[tuple[str, str]] = []

    def answer(self) -> Iterable[bytes]:
        """The body."""
        body = self._app(self._environ, self._start)
        kinds = [value for name, value in self.headers if name.lower() == "content-type"]
        if any(kind.startswith(STREAM) for kind in kinds):
            return Streamed(body)
        try:
            return [b"".join(body)]
        finally:
            _close(body)

    def _start(
        self,
        status: str,
        headers: list[tuple[str, str]],
        _trouble: OptExcInfo | None = None,
        /,
    ) -> Callable[[bytes], object]:
        self.status, self.headers = status, headers
        return _no_write


def _no_write(_data: bytes) -> object:
    raise NotImplementedError("this application gives its answers back and writes none")


def _close(body: Iterable[bytes]) -> None:
    close = getattr(body, "close", None)
    if close is not None:
        close()
