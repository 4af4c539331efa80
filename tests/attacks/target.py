"""A running screen to attack, what it answers, and all that must stand as it stood.

The screen is the demo's own process, with nobody at work but the attacker. Callers come from
addresses of their own within 127.0.0.0/8, so that one's wrong PINs do not lock another out.
"""

from __future__ import annotations

import contextlib
import http.client
import json
import socket
import sqlite3
import time
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from service.processes import Running
from service.signing_in import SignedIn

from firmware_py.logbook.opening import open_engine
from firmware_py.logbook.screen.pin import set_pin

ROOT = str(Path(__file__).parents[2])
PATIENCE_S = 20.0
JSON_TYPE = "application/json"
HOST, ATTACKER = "127.0.0.1", "127.0.0.66"
ASK = {"command": "ask", "spur": "brickyard"}
HAND = {"contact": "brickyard-switch.hasp", "made": False}
BY_THEMSELVES = {"pulse", "access"}
"""Tables that change while nobody asks for anything, or because somebody was refused."""
LEAKS = ("Traceback", 'File "', "werkzeug", "sqlalchemy", "sqlite3.", "site-packages", ROOT)

Standing = dict[str, Any]


@dataclass(frozen=True)
class Answer:
    """What came back; ``head`` has lower-case names, and the last of each."""

    status: int
    head: Mapping[str, str]
    body: bytes
    cookies: tuple[str, ...] = field(default=())

    @property
    def text(self) -> str:
        return self.body.decode("utf-8", "replace")

    @property
    def json(self) -> Any:  # noqa: ANN401 - it is whatever JSON there is
        return json.loads(self.body)


class Target:
    """The screen, and the logbook behind it."""

    def __init__(self, demo: Running, logbook: Path) -> None:
        self.demo = demo
        self.port = demo.port
        self.logbook = logbook
        self.pin = demo.pin
        self.browser = SignedIn(demo.address, self.pin)

    def host(self) -> dict[str, str]:
        """The headers of the signed-in host's browser; he signs in anew where he has to."""
        if not self.browser.head or not self.is_host(self.browser.head):
            self.browser.sign_in()
        return dict(self.browser.head)

    def another(self) -> dict[str, str]:
        """The headers of another browser that has given the PIN."""
        return SignedIn(self.demo.address, self.pin).sign_in()

    def is_host(self, head: Mapping[str, str]) -> bool:
        """Whether the screen takes this browser for the host's."""
        return bool(self.send("GET", "/api/me", head=head).json["host"])

    def send(
        self,
        method: str,
        path: str,
        body: bytes = b"",
        head: Mapping[str, str] | None = None,
        whence: str = HOST,
    ) -> Answer:
        """Ask for something, with exactly these headers beside ``Host`` and ``Content-Length``."""
        line = http.client.HTTPConnection(HOST, self.port, PATIENCE_S, source_address=(whence, 0))
        with contextlib.closing(line):
            line.putrequest(method, path, skip_host=True, skip_accept_encoding=True)
            for name, value in {"Host": f"{HOST}:{self.port}", **(head or {})}.items():
                line.putheader(name, value)
            if body or method not in {"GET", "HEAD", "TRACE"}:
                line.putheader("Content-Length", str(len(body)))
            line.endheaders()
            with contextlib.suppress(BrokenPipeError, ConnectionResetError):
                line.send(body)
            answer = line.getresponse()
            cookies = tuple(answer.headers.get_all("Set-Cookie") or ())
            names = {name.lower(): value for name, value in answer.getheaders()}
            return Answer(answer.status, names, answer.read(), cookies)

    def post(
        self,
        path: str,
        body: object,
        head: Mapping[str, str] | None = None,
        whence: str = HOST,
    ) -> Answer:
        """Post something as JSON; bytes go as they are."""
        data = body if isinstance(body, bytes) else json.dumps(body).encode()
        return self.send("POST", path, data, {"Content-Type": JSON_TYPE, **(head or {})}, whence)

    def raw(self, data: bytes, quiet_s: float = 2.0) -> bytes:
        """Send bytes as they are; all that comes back until the other end closes or is quiet."""
        with socket.create_connection((HOST, self.port), PATIENCE_S) as line:
            with contextlib.suppress(OSError):
                line.sendall(data)
            line.settimeout(quiet_s)
            got = bytearray()
            with contextlib.suppress(OSError):
                while more := line.recv(65_536):
                    got += more
            return bytes(got)

    def standing(self) -> Standing:
        """Everything that is kept, but for the door's own list, and everything that is shown."""
        with contextlib.closing(sqlite3.connect(self.logbook, timeout=PATIENCE_S)) as database:
            tables = [
                name
                for (name,) in database.execute("SELECT name FROM sqlite_master WHERE type='table'")
                if name not in BY_THEMSELVES
            ]
            kept = {
                name: database.execute(f'SELECT * FROM "{name}" ORDER BY 1').fetchall()
                for name in sorted(tables)
            }
        shown = self.send("GET", "/api/state").json
        del shown["clock_us"]
        return {**kept, "shown": shown}

    def at_rest(self) -> Standing:
        """The same, once it stays as it is: what was asked before may still be under way."""
        last = self.standing()
        for _ in range(100):
            time.sleep(0.3)
            now = self.standing()
            if now == last:
                return now
            last = now
        raise AssertionError("it never comes to rest")

    @contextlib.contextmanager
    def unchanged(self, *but: str) -> Iterator[None]:
        """Whatever is done inside leaves everything as it was, but for the tables named."""
        self.host()
        before = self.at_rest()
        yield
        after = self.standing()
        for name in before.keys() | after.keys():
            assert name in but or before.get(name) == after.get(name), f"{name} has changed"

    def fresh_pin(self) -> None:
        """Set the same PIN anew, as ``spurlock pin`` does: every browser is signed out."""
        database = open_engine(str(self.logbook))
        try:
            set_pin(database, self.pin)
        finally:
            database.dispose()

    def query(self, sql: str, *values: object) -> list[tuple[Any, ...]]:
        """Read from, or write into, the logbook past the screen."""
        with contextlib.closing(sqlite3.connect(self.logbook, timeout=PATIENCE_S)) as database:
            rows = database.execute(sql, values).fetchall()
            database.commit()
            return rows

    def serves(self) -> None:
        """Wait until a guest is answered again, and the host as well."""
        end_s = time.monotonic() + PATIENCE_S * 3
        while True:
            with contextlib.suppress(OSError, http.client.HTTPException):
                if self.send("GET", "/health").status == 200:
                    return
            assert time.monotonic() < end_s, "the screen does not serve any more"
            time.sleep(0.1)


def refused(answer: Answer, *statuses: int) -> Answer:
    """A refusal: 4xx, one of these statuses if any are named, in words, with no entrails shown."""
    assert 400 <= answer.status < 500, (answer.status, answer.text[:300])
    assert not statuses or answer.status in statuses, (answer.status, answer.text[:300])
    for leak in LEAKS:
        assert leak not in answer.text, answer.text[:300]
    return answer
