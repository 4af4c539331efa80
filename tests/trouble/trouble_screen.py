"""A screen that stays while the trouble comes and goes, as its own process would."""

from __future__ import annotations

import json
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from typing import Any

from trouble_shift import Shift, until

from firmware_py.health.record import EngineHealth, path_of
from firmware_py.logbook.opening import logbook_url, open_engine
from firmware_py.logbook.reading import Reader
from web.live.follow import Follower
from web.live.hub import Hub


@dataclass
class Screen:
    """A screen that stays: it looks whenever it is asked what it shows."""

    follower: Follower

    def shows(self) -> dict[str, Any]:
        """The whole of it, as a page that opens now gets it."""
        self.follower.look()
        state = self.follower.hub.state()
        assert state is not None
        shown: dict[str, Any] = json.loads(state.data)
        return shown

    def head(self) -> dict[str, Any]:
        """The head alone."""
        head: dict[str, Any] = self.shows()["head"]
        return head

    def until_live(self) -> None:
        """Wait until what it shows is proven."""
        until(lambda: self.head()["live"], self.head)

    def until_unwritten(self, reason: str) -> None:
        """Wait until it says why the logbook can't be written, and see that nothing is lit."""
        until(lambda: reason in self.head()["engine_says"], self.head)
        shown = self.shows()
        says = shown["head"]["engine_says"]
        assert says.startswith("The engine guards, but the logbook can't be written: ")
        assert "What stands here is old." in says
        assert shown["head"]["live"] is False
        assert {row["lamp"]["colour"] for row in shown["rows"].values()} <= {"dark", "none"}
        assert all(contact["settled"] is None for contact in shown["contacts"].values())


@contextmanager
def screen_of(shift: Shift) -> Iterator[Screen]:
    """A screen on a shift's logbook, and on its engine's own word, that was live once."""
    database = open_engine(logbook_url(str(shift.logbook)), busy_ms=200)
    reader = Reader(database)
    follower = Follower(reader, Hub(2), path_of(str(shift.logbook), EngineHealth))
    try:
        screen = Screen(follower)
        screen.until_live()
        yield screen
    finally:
        follower.close()
        reader.close()
        database.dispose()
