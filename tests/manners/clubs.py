"""A club without a broker: three boxes' logbooks, their couriers, and a board that gathers them."""

from __future__ import annotations

import threading
from collections.abc import Callable, Sequence
from importlib.resources import files
from pathlib import Path

from board.board_filled import BoardFiller
from club.fake_link import FakeLink
from playwright.sync_api import Page, expect
from sqlalchemy import update

from firmware_py.club.courier import Courier
from firmware_py.core.names import Command
from firmware_py.gathering.gatherer import Gatherer
from firmware_py.logbook.opening import open_engine
from firmware_py.logbook.tables import SESSION
from firmware_py.logbook.writing import wall_now_us
from manners.views import View

ROOMS = ("upper-room", "middle-room", "lower-room")
TITLE = "Wendlebeck club"
TURN_S = 0.1
UPPER, MIDDLE, LOWER = ROOMS


class Room:
    """A box: what it logs, and its courier, whose link is a queue of ours."""

    def __init__(self, folder: Path, name: str) -> None:
        text = (files("firmware_py.demo") / "layouts" / "club" / f"{name}.toml").read_text("utf-8")
        url = str(folder / f"{name}.sqlite")
        self.name = name
        self.filler = BoardFiller(url, text)
        self.engine = open_engine(url)
        self.couriers = [self._courier()]
        self.at_s = 1.0
        self.turns = 0

    def turn(self, *, twice: bool) -> list[tuple[str, bytes]]:
        """A moment goes by; what the broker would hear. ``twice`` has a second box of its name."""
        self.turns += 1
        self.at_s += TURN_S
        self.filler.wait(self.at_s)
        self.filler.beat()
        if twice and len(self.couriers) == 1:
            self.couriers.append(self._courier())
        # Two that cut each other off: the one, then the other.
        courier, link = self.couriers[self.turns // 6 % 2 if twice else 0]
        courier.turn()
        sent, link.sent = link.sent, []
        return sent

    def hear(self, topic: str, payload: bytes) -> None:
        """The broker has something for it."""
        for _, link in self.couriers:
            link.take(topic, payload)

    def close(self) -> None:
        """Let go of its logbook."""
        for courier, _ in self.couriers:
            courier.close()
        self.engine.dispose()
        self.filler.close()

    def _courier(self) -> tuple[Courier, FakeLink]:
        link = FakeLink()
        made = Courier(self.name, self.engine, link, wall_us=wall_now_us)  # type: ignore[arg-type]
        return made, link


class Club:
    """All of it, in a thread that goes on until it is closed."""

    def __init__(self, folder: Path) -> None:
        self.logbook = folder / "board.sqlite"
        self._engine = open_engine(str(self.logbook))
        self._link = FakeLink()
        self._gatherer = Gatherer(
            "board",
            TITLE,
            self._engine,
            self._link,  # type: ignore[arg-type] # It has what is used of a link.
            wall_us=wall_now_us,
        )
        self._rooms = [Room(folder, name) for name in ROOMS]
        self._silent: set[str] = set()
        self._twice: set[str] = set()
        self._busy()
        self._gatherer.turn()
        with self._engine.begin() as connection:
            connection.execute(update(SESSION).values(opened=True))
        self._over = threading.Event()
        self._thread = threading.Thread(target=self._run, daemon=True)
        self._thread.start()

    def views(self) -> Sequence[View]:
        """The board of a club in each state that looks different, and its other pages."""
        dark, shared = self._have(silent={MIDDLE}), self._have(twice={UPPER}, silent={LOWER})
        return (
            View("club board", "/", self._have(), host=True),
            View("club board, a box silent", "/", dark),
            View("club board, two boxes of one name", "/", shared, host=True),
            View("club wall, two boxes of one name", "/?wall", shared),
            View("club session", "/session", self._calm, host=True),
            View("club jobs", "/jobs", host=True),
            View("club bench", "/bench", host=True),
            View("club debrief", "/debrief"),
        )

    def close(self) -> None:
        """End it."""
        self._over.set()
        self._thread.join()
        for room in self._rooms:
            room.close()
        self._engine.dispose()

    def _calm(self, _: Page) -> None:
        """Mend all; what a page says of it does not matter meanwhile."""
        self._silent, self._twice = set(), set()

    def _busy(self) -> None:
        """A crew waits at the desk, and another has left points lying wrong."""
        upper, middle, lower = (room.filler for room in self._rooms)
        lower.order(1.0, Command.ASK, "brickyard")
        middle.read(1.0, "oil-dock-switch.normal", False)
        upper.read(1.0, "creamery-switch.hasp", False)

    def _have(
        self, *, silent: frozenset[str] | set[str] = frozenset(), twice: set[str] | None = None
    ) -> Callable[[Page], None]:
        """Have boxes fare so, and wait until the page says it."""

        def arrive(page: Page) -> None:
            self._silent, self._twice = set(silent), twice or set()
            alarm = page.locator("#alarm-head")
            if self._twice:
                expect(alarm).to_have_text("Two boxes call themselves Upper room.")
                expect(page.locator("#alarm-text")).to_contain_text("Lower room")
            elif self._silent:
                expect(alarm).to_have_text("One box does not guard.")
            else:
                expect(page.locator("#alarm")).to_be_hidden()

        return arrive

    def _run(self) -> None:
        while not self._over.wait(TURN_S):
            for room in self._rooms:
                for topic, payload in room.turn(twice=room.name in self._twice):
                    if room.name not in self._silent:
                        self._link.take(topic, payload)
            self._gatherer.turn()
            sent, self._link.sent = self._link.sent, []
            for topic, payload in sent:
                next(room for room in self._rooms if f"/{room.name}/" in topic).hear(topic, payload)
