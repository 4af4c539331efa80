"""A host's browser, as far as a program can be one: it gives the PIN and keeps what it is given."""

from __future__ import annotations

import json
import re
import urllib.error
import urllib.request
from http.client import HTTPResponse
from pathlib import Path

from firmware_py.logbook.opening import open_engine
from firmware_py.logbook.screen.pin import set_pin

PIN = "gorse-4171"
SAID = re.compile(r"The host PIN is (\d{4})\.")
JSON = {"Content-Type": "application/json"}
_direct = urllib.request.build_opener(urllib.request.ProxyHandler({}))


def give_pin(logbook: Path | str) -> None:
    """Set ``PIN`` in a logbook, as ``spurlock pin`` does; it may be a new one."""
    database = open_engine(str(logbook))
    try:
        set_pin(database, PIN)
    finally:
        database.dispose()


def pin_said(said: str) -> str:
    """The PIN that the demo has printed; ``PIN`` where nothing was."""
    found = SAID.search(said)
    return found[1] if found else PIN


class SignedIn:
    """Asks a screen for things as the host, and signs in when it has to.

    What it raises is ``urllib``'s: ``HTTPError`` for a refusal, ``OSError`` where nobody answers.
    """

    def __init__(self, address: str, pin: str, timeout_s: float = 10.0) -> None:
        self._address = address.rstrip("/")
        self._pin = pin
        self._timeout_s = timeout_s
        self.head: dict[str, str] = {}
        """The headers of a signed-in browser: its cookie and its token."""

    def sign_in(self) -> dict[str, str]:
        """Give the PIN; the headers to send along from then on."""
        with self._send("/api/host", {"pin": self._pin}, {}) as answer:
            cookie = answer.headers["Set-Cookie"].partition(";")[0]
            token = json.load(answer)["token"]
        self.head = {"Cookie": cookie, "X-Spurlock-Token": token}
        return self.head

    def post(self, path: str, body: object) -> HTTPResponse:
        """What the screen answers; to be closed by whoever asked."""
        if not self.head:
            self.sign_in()
        try:
            return self._send(path, body, self.head)
        except urllib.error.HTTPError as refused:
            if refused.code != 401:
                raise
            refused.close()
        return self._send(path, body, self.sign_in())

    def _send(self, path: str, body: object, head: dict[str, str]) -> HTTPResponse:
        data = json.dumps(body).encode()
        request = urllib.request.Request(self._address + path, data, JSON | head)
        answer: HTTPResponse = _direct.open(request, timeout=self._timeout_s)
        return answer
