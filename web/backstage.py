"""What the pages and their answers are made from."""

from __future__ import annotations

import time
from dataclasses import dataclass

from sqlalchemy import Engine

from firmware_py.logbook.reading import Reader
from web.access.door import Door
from web.asks import AskError
from web.live.follow import Follower
from web.live.log import Followed


@dataclass(frozen=True, slots=True)
class Backstage:
    """An open logbook, whoever follows it, and the host's door.

    ``hands`` allows hands at simulated contacts.
    """

    engine: Engine
    reader: Reader
    follower: Follower
    door: Door
    hands: bool

    def followed(self) -> Followed:
        """The session that is followed. Raises ``AskError`` 409 before the first one."""
        followed = self.follower.followed
        if followed is None:
            raise AskError(409, "no session has begun; start the engine first")
        return followed


def wall_us() -> int:
    """The wall clock: microseconds since 1970 UTC."""
    return time.time_ns() // 1_000
