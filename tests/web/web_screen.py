"""A screen over a logbook whose follower looks only when it is told to."""

from __future__ import annotations

import time
from pathlib import Path
from typing import Any

import msgspec
from flask.testing import FlaskClient
from web_filled import Filler

from firmware_py.logbook.opening import open_engine
from firmware_py.logbook.reading import Reader
from web.api import Backstage
from web.app import create_app
from web.live.follow import Follower
from web.live.hub import Hub

MOST_STREAMS = 2


class Screen:
    """A screen without its thread: ``look`` is one look at the logbook."""

    def __init__(self, path: Path, *, hands: bool = True) -> None:
        self.engine = open_engine(str(path))
        self.reader = Reader(self.engine)
        self.follower = Follower(self.reader, Hub(MOST_STREAMS))
        self.app = create_app(Backstage(self.engine, self.reader, self.follower, hands))
        self.client: FlaskClient = self.app.test_client()

    def look(self) -> dict[str, Any]:
        """Look until nothing is owed, and give the state that new streams begin from.

        Where reading the violations took long, the follower rests before it reads them again.
        """
        self.follower.look()
        while self.follower.followed is not None and self.follower.followed.owing:
            time.sleep(0.005)
            self.follower.look()
        return self.state()

    def state(self) -> dict[str, Any]:
        """The state as last drawn."""
        event = self.follower.hub.state()
        assert event is not None
        state: dict[str, Any] = msgspec.json.decode(event.data)
        return state

    def wake(self, filler: Filler) -> dict[str, Any]:
        """See the beat change, so that the engine counts as alive."""
        self.look()
        filler.beat()
        return self.look()

    def close(self) -> None:
        self.follower.close()
        self.reader.close()
        self.engine.dispose()
