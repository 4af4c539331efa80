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
from firmware_py.logbook.screen.pin import has_pin, set_pin
from web.access.door import COOKIE, TOKEN_HEADER, Door
from web.app import create_app
from web.backstage import Backstage, wall_us
from web.live.follow import Follower
from web.live.hub import Hub

MOST_STREAMS = 2
PIN = "tarn-4171"


class Screen:
    """A screen without its thread: ``look`` is one look at the logbook."""

    def __init__(self, path: Path, *, hands: bool = True) -> None:
        self.engine = open_engine(str(path))
        self.reader = Reader(self.engine)
        self.follower = Follower(self.reader, Hub(MOST_STREAMS))
        self.door = Door(self.engine, wall_us=wall_us)
        self.app = create_app(Backstage(self.engine, self.reader, self.follower, self.door, hands))
        self.guest: FlaskClient = self.app.test_client()
        self.client = self.host()

    def host(self) -> FlaskClient:
        """A client that has given the host's PIN, and sends the token along."""
        if not has_pin(self.engine):
            set_pin(self.engine, PIN)
        made = self.door.enter(PIN, "127.0.0.1")
        client = self.app.test_client()
        client.set_cookie(COOKIE, made.cookie)
        client.environ_base["HTTP_" + TOKEN_HEADER.upper().replace("-", "_")] = made.token
        return client

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
