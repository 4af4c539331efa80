"""A screen over a logbook whose follower looks only when it is told to."""

from __future__ import annotations

import time

from flask.testing import FlaskClient

from firmware_py.logbook.opening import open_engine
from firmware_py.logbook.reading import Reader
from firmware_py.logbook.screen.pin import set_pin
from web.access.door import COOKIE, TOKEN_HEADER, Door
from web.app import create_app
from web.backstage import Backstage, wall_us
from web.live.follow import Follower
from web.live.hub import Hub

PIN = "tarn-4171"


class Screen:
    """``host`` is signed in, ``guest`` is not."""

    def __init__(self, url: str) -> None:
        self.engine = open_engine(url)
        self.reader = Reader(self.engine)
        self.follower = Follower(self.reader, Hub(2))
        door = Door(self.engine, wall_us=wall_us)
        self.app = create_app(Backstage(self.engine, self.reader, self.follower, door, True))
        set_pin(self.engine, PIN)
        made = door.enter(PIN, "127.0.0.1")
        self.guest: FlaskClient = self.app.test_client()
        self.host: FlaskClient = self.app.test_client()
        self.host.set_cookie(COOKIE, made.cookie)
        self.host.environ_base["HTTP_" + TOKEN_HEADER.upper().replace("-", "_")] = made.token

    def look(self) -> None:
        """Look until nothing is owed: the violations are not read anew at every look."""
        self.follower.look()
        while self.follower.followed is not None and self.follower.followed.owing:
            time.sleep(0.005)
            self.follower.look()

    def close(self) -> None:
        self.follower.close()
        self.reader.close()
        self.engine.dispose()
