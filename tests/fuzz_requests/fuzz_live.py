"""An engine and a screen that live in this process, and what must be so after anything asked."""

from __future__ import annotations

import sqlite3
import time
from contextlib import closing
from pathlib import Path
from typing import Any

import msgspec
import pytest
from flask.testing import FlaskClient
from trouble_shift import Shift, until

from firmware_py.forecast.answering import answered
from firmware_py.forecast.words import Question
from firmware_py.logbook.opening import open_engine
from firmware_py.logbook.reading import Reader
from firmware_py.logbook.screen.pin import set_pin
from firmware_py.logbook.screen.settings import secret
from web.access.door import COOKIE, TOKEN_HEADER, Door
from web.app import create_app
from web.backstage import Backstage, wall_us
from web.live.follow import Follower
from web.live.hub import Hub

ASKED_FOR = ("request", "job", "tick", "setting", "signin", "forecast", "locomotive", "roll")
COLUMNS = (
    "wall_us",
    "kind",
    "command",
    "spur",
    "violation",
    "cars",
    "note",
    "contact",
    "made",
    "output",
)
PIN = "gorse-4171"
Standing = tuple[object, ...]


def _reckoned(module: str, question: object, longest_s: float) -> object:
    """What the forecast's process answers."""
    return msgspec.to_builtins(answered(msgspec.convert(question, Question)))


class Live:
    """Both of them, from entering to leaving."""

    def __init__(self, folder: Path, patch: pytest.MonkeyPatch) -> None:
        patch.setattr("firmware_py.engine.requests.LOOK_EVERY_S", 0.001)
        patch.setattr("firmware_py.engine.by_hand.LASTS_US", 100_000)  # So that all soon end.
        # A process for each of a hundred forecasts would take minutes; the arithmetic is the same.
        patch.setattr("web.forecast.routes.reckon", _reckoned)
        patch.setattr("web.forecast.routes.EVENINGS", 50)
        self.shift = Shift(folder)
        self._engine = open_engine(str(self.shift.logbook))
        self._reader = Reader(self._engine)
        self._follower = Follower(self._reader, Hub(4))
        set_pin(self._engine, PIN)
        secret(self._engine, "link-secret")  # Drawn when a screen starts.
        self._door = Door(self._engine, wall_us=wall_us)
        self._signed_in = self._door.enter(PIN, "127.0.0.1")
        self.app = create_app(
            Backstage(self._engine, self._reader, self._follower, self._door, hands=True)
        )

    def __enter__(self) -> Live:
        self.shift.__enter__()
        self._follower.start()
        until(lambda: self._follower.live)
        return self

    def __exit__(self, *_: object) -> None:
        self._follower.close()
        self.shift.__exit__(None, None, None)
        self._reader.close()
        self._engine.dispose()

    @property
    def head(self) -> dict[str, str]:
        """The headers of the signed-in host's browser."""
        made = self._signed_in
        return {"Cookie": f"{COOKIE}={made.cookie}", TOKEN_HEADER: made.token}

    def sign_in(self) -> None:
        """Give the PIN again, where something that was tried has signed the host out."""
        with self.app.test_request_context(headers=self.head) as context:
            if self._door.token(context.request) is None:
                self._signed_in = self._door.enter(PIN, "127.0.0.1")

    def client(self, *, host: bool = False) -> FlaskClient:
        """A browser of its own: a guest's, or one that is signed in."""
        client = self.app.test_client()
        if host:
            self.sign_in()
            client.set_cookie(COOKIE, self._signed_in.cookie)
            client.environ_base["HTTP_X_SPURLOCK_TOKEN"] = self._signed_in.token
        return client

    def kept(self) -> Standing:
        """Everything in the logbook that only the screen's asking changes."""
        with closing(sqlite3.connect(self.shift.logbook, timeout=20.0)) as database:
            return tuple(
                tuple(database.execute(f"SELECT * FROM {table} ORDER BY 1").fetchall())
                for table in ASKED_FOR
            )

    def standing(self) -> Standing:
        """Every stage, phase and foreman, once all contacts have settled as they are."""
        shift = self.shift
        until(lambda: shift.core.settled() == shift.board.levels())
        core = shift.core
        return core.stages(), core.phases(), core.foremen()

    def leave(self, row: dict[str, Any]) -> int:
        """Put a row straight into the table of requests; its id."""
        columns = ", ".join(COLUMNS)
        places = ", ".join("?" * len(COLUMNS))
        with closing(sqlite3.connect(self.shift.logbook, timeout=20.0)) as database:
            done = database.execute(
                f"INSERT INTO request ({columns}) VALUES ({places})",
                [row.get(column) for column in COLUMNS],
            )
            database.commit()
            assert done.lastrowid is not None
            return done.lastrowid

    def answer(self, number: int) -> tuple[bool, str | None]:
        """Wait for the engine's answer."""
        wanted = "SELECT accepted, why FROM request WHERE id = ? AND answered_wall_us IS NOT NULL"
        found: list[Any] = []

        def answered() -> bool:
            with closing(sqlite3.connect(self.shift.logbook, timeout=20.0)) as database:
                found[:] = database.execute(wanted, [number]).fetchall()
            return bool(found)

        end_s = time.monotonic() + 20.0
        while not answered():
            assert time.monotonic() < end_s, f"request {number} was never answered"
            time.sleep(0.002)
        return bool(found[0][0]), found[0][1]

    def lives(self) -> bool:
        """Whether the engine still serves."""
        return not self.shift.failed and self.shift._thread.is_alive()
