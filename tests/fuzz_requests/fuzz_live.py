"""An engine and a screen that live in this process, and what must be so after anything asked."""

from __future__ import annotations

import sqlite3
import time
from contextlib import closing
from pathlib import Path
from typing import Any

import pytest
from flask.testing import FlaskClient
from trouble_shift import Shift, until

from firmware_py.logbook.opening import open_engine
from firmware_py.logbook.reading import Reader
from web.api import Backstage
from web.app import create_app
from web.live.follow import Follower
from web.live.hub import Hub

COLUMNS = ("wall_us", "kind", "command", "spur", "violation", "cars", "note", "contact", "made")
Standing = tuple[object, ...]


class Live:
    """Both of them, from entering to leaving."""

    def __init__(self, folder: Path, patch: pytest.MonkeyPatch) -> None:
        patch.setattr("firmware_py.engine.requests.LOOK_EVERY_S", 0.001)
        self.shift = Shift(folder)
        self._engine = open_engine(str(self.shift.logbook))
        self._reader = Reader(self._engine)
        self._follower = Follower(self._reader, Hub(4))
        self.app = create_app(Backstage(self._engine, self._reader, self._follower, hands=True))

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

    def client(self) -> FlaskClient:
        """A browser of its own."""
        return self.app.test_client()

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
