"""The follower of a board that has many boxes: it reads all of them, and draws them as one."""

from __future__ import annotations

import time
from collections.abc import Sequence
from pathlib import Path
from typing import Any

import msgspec

from firmware_py.gathering.attendance import Fares
from firmware_py.gathering.layouts import nothing, one_layout, with_keys
from firmware_py.gathering.names import FITS_SETTING, title_of
from firmware_py.gathering.words import SAYS
from firmware_py.logbook.records import EntryRecord
from web.club.boxes import Boxes
from web.club.reading import ClubReader
from web.club.view import Drawing, one_board
from web.live.board import Board
from web.live.clock import SessionClock
from web.live.follow import POLL_S, Follower
from web.live.hub import Hub
from web.live.log import KEPT_REMARKS, Followed, read_screens_own
from web.live.plan import Plan
from web.live.view import Known, View


class ClubFollower(Follower):
    """Follows a board's database. Its session is the board's own, its layout that of all boxes."""

    def __init__(
        self, reader: ClubReader, hub: Hub, record: Path | None = None, poll_s: float = POLL_S
    ) -> None:
        super().__init__(reader, hub, record, poll_s)
        self._club = reader
        self._boxes = Boxes(reader)
        self._drawing = Drawing()
        self._plan: tuple[object, Plan] | None = None
        self._fits: dict[str, str] = {}

    def _newest(self, known: Followed | None) -> Followed | None:
        own = self._club.session()
        if own is None:
            return None
        same = (own.id, own.began_wall_us)
        if known is not None and (known.session.id, known.session.began_wall_us) == same:
            known.session = own
            return known
        return Followed(own, Plan(nothing(own.layout_name)), Board())

    def _read_on(self, followed: Followed) -> list[EntryRecord]:
        boxes, own = self._boxes, followed.session
        new = boxes.read_on(own)
        read_screens_own(self._club, followed)
        followed.last_id = boxes.last_id
        followed.remarks = boxes.remarks(KEPT_REMARKS)
        self._fits = key_fits(followed.settings.get(FITS_SETTING))
        followed.plan = self._whole_plan(own.layout_name)
        followed.board = one_board(boxes.by_name)
        every = boxes.by_name.values()
        followed.violations = sorted(
            (one for box in every for one in box.violations), key=lambda one: -one.t_us
        )
        followed.standing = {
            name: one for box in every if box.live for name, one in box.standing.items()
        }
        followed.silent = {
            row: f"{title_of(name)}: {SAYS.get(box.node.state, SAYS['silent'])}"
            for name, box in boxes.by_name.items()
            if not box.live
            for row in box.plan.rows
        }
        simulated = bool(boxes.by_name) and all(box.session.simulated for box in every)
        followed.session = msgspec.structs.replace(own, simulated=simulated)
        return new

    def _set_clock(
        self, followed: Followed, new: Sequence[EntryRecord], now: float, *, fresh: bool
    ) -> None:
        """The board's own clock: boxes that disagree about the time don't move it."""
        del new
        if fresh or self._clock is None:
            began_us = followed.session.began_wall_us
            self._clock = SessionClock.guess(0, began_us, time.time_ns() // 1_000, now)

    def _sections(self, known: Known) -> View:
        return self._drawing.sections(
            self._boxes.by_name, self._boxes.nodes, known, self._fits, heard=self.live
        )

    def _head(self, followed: Followed | None, now: float) -> dict[str, Any]:
        head = super()._head(followed, now)
        nodes = self._boxes.nodes
        unheard = [one.name for one in nodes if not self._is_live(one.name)]
        shared = [one.name for one in nodes if self.live and one.state == Fares.SHARED]
        return head | {
            "boxes": len(nodes),
            "unheard": [title_of(name) for name in unheard],
            "shared": [title_of(name) for name in shared],
        }

    def _is_live(self, name: str) -> bool:
        box = self._boxes.by_name.get(name)
        return self.live and box is not None and box.live

    def _whole_plan(self, name: str) -> Plan:
        layouts = {one: box.plan.layout for one, box in self._boxes.by_name.items()}
        mark = (name, *((one, id(layout)) for one, layout in layouts.items()), str(self._fits))
        if self._plan is None or self._plan[0] != mark:
            whole = one_layout(name, layouts) or nothing(name)
            self._plan = mark, Plan(with_keys(whole, self._fits, whole.keys))
        return self._plan[1]


def key_fits(setting: str | None) -> dict[str, str]:
    """Which keys fit at other boxes: the key of each switch or gate. What is none is passed over.

    >>> key_fits('{"east--mill-switch": "west--yard-key"}'), key_fits("x"), key_fits(None)
    ({'east--mill-switch': 'west--yard-key'}, {}, {})
    """
    try:
        return msgspec.json.decode(setting or "{}", type=dict[str, str])
    except msgspec.MsgspecError:
        return {}
