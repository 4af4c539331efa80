"""Two boxes that live and have one name: a real broker hands the connection to and fro."""

from __future__ import annotations

import json
import logging
import shutil
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest

from club.board_host import BoardHost
from club.box import Box, until
from club.machines import broker_in
from firmware_py.logbook.opening import open_engine
from firmware_py.logbook.reading import Reader
from firmware_py.logbook.requests import leave_order
from firmware_py.logbook.writing import wall_now_us
from firmware_py.service.trial.mosquitto import Mosquitto
from web.club.follow import ClubFollower
from web.club.reading import ClubReader
from web.live.hub import Hub


class Page:
    """What a page of the board would show."""

    def __init__(self, url: str) -> None:
        self._engine = open_engine(url)
        self._follower = ClubFollower(ClubReader(self._engine), Hub(2))

    def drawn(self) -> dict[str, Any]:
        """All of it, once the gatherer was seen to be alive."""
        found: dict[str, Any] = {}

        def live() -> bool:
            self._follower.look()
            state = self._follower.hub.state()
            found.update(json.loads(state.data) if state else {})
            return bool(found and found["head"]["live"])

        until(live)
        return found

    def close(self) -> None:
        self._engine.dispose()


@pytest.fixture
def broker(own: Path) -> Iterator[Mosquitto]:
    made = broker_in(own / "broker")
    made.start()
    yield made
    made.stop()


@pytest.mark.timeout(240)
@pytest.mark.parametrize("copied", [False, True], ids=["two-logbooks", "a-copied-card"])
def test_two_boxes_of_one_name_are_told_and_are_dark_until_one_is_off(
    own: Path, broker: Mosquitto, copied: bool, caplog: pytest.LogCaptureFixture
) -> None:
    caplog.set_level(logging.WARNING)
    first, board = Box(own / "first", "west", broker), BoardHost(str(own / "board.sqlite"), broker)
    page, second = Page(board.url), None
    try:
        first.start()
        board.start()
        until(lambda: board.states().get("west") == "guarding")
        if copied:
            first.stop_courier()
            first.stop_engine()
            first.engine.dispose()
            shutil.copytree(own / "first", own / "second")
            first.start()
            until(lambda: board.states().get("west") == "guarding")
        second = Box(own / "second", "west", broker)
        second.start()
        until(lambda: board.states()["west"] == "shared", "nobody noticed")
        until(lambda: page.drawn()["head"]["shared"] == ["West"])
        shown = page.drawn()
        assert shown["head"]["unheard"] == ["West"]
        assert "two boxes have this name" in shown["nodes"]["west"]["says"]
        (row,) = shown["rows"].values()
        assert (row["heard"], row["lamp"]["colour"], row["white"]) == (False, "dark", None)
        left = leave_order(board.engine, "release", spur="west--mill", wall_us=wall_now_us())
        reader = Reader(board.engine)
        until(lambda: reader.request(left).answered_wall_us is not None)
        assert "two boxes call themselves West" in str(reader.request(left).why)
        reader.close()
        until(lambda: "session taken over: a second one seems to log in as west" in caplog.text)
        second.stop_courier()
        until(lambda: board.states()["west"] == "guarding", "it never came back")
        until(lambda: page.drawn()["head"]["unheard"] == [])
        assert page.drawn()["head"]["shared"] == []
    finally:
        if second is not None:
            second.close()
        first.close()
        page.close()
        board.close()
