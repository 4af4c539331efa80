"""Gathers what the boxes say into the board's database, and passes on what its pages ask.

One thread does all of it: what has come since the last turn is written in one transaction, with
how far each log was gathered. If that fails, nothing of it counts, and what it lacked is asked
for again from the boxes' own logbooks.
"""

from __future__ import annotations

import logging
import time
from collections.abc import Callable

from sqlalchemy import Connection, Engine
from sqlalchemy.exc import DataError, IntegrityError, SQLAlchemyError

from firmware_py.club.link import Came, Link
from firmware_py.club.messages import (
    Answer,
    Batch,
    Fetch,
    Health,
    PayloadError,
    SessionSaid,
    Standing,
    decode,
    encode,
)
from firmware_py.club.topics import Said, Told, read_said, told
from firmware_py.gathering import store
from firmware_py.gathering.attendance import Fares
from firmware_py.gathering.desk import LASTS_S, Desk
from firmware_py.gathering.member import Member
from firmware_py.gathering.names import NODES
from firmware_py.layout.node import LONGEST_NAME, NODE_NAME
from firmware_py.logbook.errors import LogbookError, reason

log = logging.getLogger(__name__)

LOOK_EVERY_S = 0.05
TOGETHER_S = 0.02
"""What comes within this is written together, so that many boxes cost no more than few."""
MOST_AT_ONCE = 2_000
BEAT_EVERY_S = 1.0
HEARD_EVERY_US = 2_000_000
AFTER_TROUBLE_S = 0.2
LONGEST_TROUBLE = 300


class _AgainError(Exception):
    """The transaction was undone for one box's sake; the next turn goes without."""


class Gatherer:
    """:meth:`turn` is one turn; only one thread may call it. ``trouble`` is why it can't write."""

    def __init__(  # noqa: PLR0913 - each is a seam
        self,
        board: str,
        title: str,
        engine: Engine,
        link: Link,
        *,
        wall_us: Callable[[], int],
        now_s: Callable[[], float] = time.monotonic,
    ) -> None:
        self.trouble: str | None = None
        self._board = board
        self._engine = engine
        self._link = link
        self._wall_us = wall_us
        self._now_s = now_s
        self._desk = Desk(board, title)
        self._members: dict[str, Member] | None = None
        self._heard_us: dict[str, int] = {}
        self._beat_at = float("-inf")
        self._refused: set[str] = set()
        self._one_by_one = False

    def turn(self) -> None:
        """Take in what has come, write it, and send what is due."""
        try:
            self._know_members()
            self._hear()
            fetches = self._write()
            self._send(fetches)
            if self.trouble is not None:
                log.warning("the board's database can be written again")
            self.trouble = None
        except _AgainError:
            self._forget()
        except (SQLAlchemyError, LogbookError) as trouble:
            self._failed(trouble)

    def run(self, stopped: Callable[[], bool]) -> None:
        """Take turns until told to stop."""
        while not stopped():
            self._link.news.wait(LOOK_EVERY_S)
            time.sleep(TOGETHER_S)
            self._link.news.clear()
            self.turn()
            if self.trouble is not None:
                time.sleep(AFTER_TROUBLE_S)

    def fares(self) -> dict[str, Fares]:
        """How each box fares, by its name, as it was last written."""
        members = self._members or {}
        return {name: one.stands.state for name, one in members.items() if one.stands}

    def _know_members(self) -> None:
        if self._members is not None:
            return
        with self._engine.begin() as connection:
            known = store.nodes(connection)
        self._members = {name: Member(name, node_id) for name, node_id in known.items()}

    def _hear(self) -> None:
        came = self._link.came
        for _ in range(min(came.qsize(), MOST_AT_ONCE)):
            self._hear_one(came.get_nowait())

    def _hear_one(self, came: Came) -> None:
        found = read_said(came.topic)
        if found is None or not came.payload:
            return
        node, what, board = found
        if board not in (None, self._board):
            return
        member = self._member(node)
        if member is None:
            return
        try:
            self._hear_said(member, what, came, asked=board is not None)
        except PayloadError as wrong:
            if what not in member.troubles:
                log.warning("%s: what it says can't be read: %s", node, wrong)
            member.troubles[what] = str(wrong)[:LONGEST_TROUBLE]
        else:
            member.troubles.pop(what, None)

    def _hear_said(self, member: Member, what: Said, came: Came, *, asked: bool) -> None:
        match what:
            case Said.HEALTH:
                health = decode(came.payload, Health)
                retained = came.retained
                member.hear_health(health, self._now_s(), self._wall_us(), retained=retained)
            case Said.SESSION:
                member.hear_session(decode(came.payload, SessionSaid))
            case Said.STANDING:
                member.hear_standing(decode(came.payload, Standing))
            case Said.LOG:
                member.hear_batch(decode(came.payload, Batch), asked=asked)
            case Said.ANSWER:
                self._desk.hear(member.name, decode(came.payload, Answer))

    def _member(self, node: str) -> Member | None:
        members = self._members
        assert members is not None, "they are known by now"
        if node in members:
            return members[node]
        if not NODE_NAME.fullmatch(node) or len(node) > LONGEST_NAME or len(members) >= NODES - 1:
            if node not in self._refused and len(self._refused) < NODES:
                self._refused.add(node)
                log.warning("%r is not taken up: a board has at most %d boxes", node, NODES - 1)
            return None
        with self._engine.begin() as connection:
            node_id = store.add_node(connection, node, self._wall_us())
        members[node] = Member(node, node_id)
        return members[node]

    def _write(self) -> list[tuple[str, Fetch]]:
        now_s, wall_us = self._now_s(), self._wall_us()
        members = list((self._members or {}).values())
        waiting = [member for member in members if member.waits]
        fetches = []
        with self._engine.begin() as connection:
            revised = self._take_in(connection, waiting, wall_us)
            changes = [
                self._change(member, member in revised, (now_s, wall_us)) for member in members
            ]
            store.change_nodes(connection, [change for change in changes if change is not None])
            for member in members:
                fetch = member.fetch(connection, self._board, now_s)
                if fetch is not None:
                    fetches.append((member.name, fetch))
            ids = {member.node_id: member.name for member in members}
            self._desk.attend(connection, self.fares(), ids, now_s=now_s, wall_us=wall_us)
            if now_s - self._beat_at >= BEAT_EVERY_S:
                self._desk.beat(connection)
                self._beat_at = now_s
        for member in waiting:
            member.taken()
        self._desk.attended(now_s)
        return fetches

    def _take_in(self, connection: Connection, waiting: list[Member], wall_us: int) -> set[Member]:
        """Take all in; those of which a board shows something else now.

        What one box says that can't be written undoes the transaction; without it, the next
        turn's goes well.
        """
        revised, writes = set(), store.Writes()
        for member in waiting:
            try:
                if member.take_in(connection, writes, wall_us):
                    revised.add(member)
                if self._one_by_one:
                    writes.flush(connection)
                    writes = store.Writes()
            except (ValueError, IntegrityError, DataError) as wrong:
                member.bar(reason(wrong)[:LONGEST_TROUBLE])
                raise _AgainError from wrong
        try:
            writes.flush(connection)
        except (IntegrityError, DataError) as wrong:
            self._one_by_one = True  # The next turn finds out whose it is.
            raise _AgainError from wrong
        self._one_by_one = False
        for member in waiting:
            member.judge(connection)
        return revised

    def _change(self, member: Member, revised: bool, now: tuple[float, int]) -> store.Change | None:
        """What changes of a box's row, if anything."""
        now_s, wall_us = now
        stands = member.how(now_s)
        heard_us = self._heard_us.get(member.name, 0)
        late = stands.state is Fares.GUARDING and not 0 <= wall_us - heard_us < HEARD_EVERY_US
        if stands == member.stands and not revised and not late:
            return None
        values = {name: getattr(stands, name) for name in stands._fields}
        values["state"] = str(stands.state)
        if member.attendance.heard_s is not None:
            values["heard_wall_us"] = wall_us - round((now_s - member.attendance.heard_s) * 1e6)
        member.stands = stands
        self._heard_us[member.name] = wall_us
        return store.Change(member.node_id, values, revised)

    def _send(self, fetches: list[tuple[str, Fetch]]) -> None:
        for node, fetch in fetches:
            self._link.send(told(node, Told.FETCH), encode(fetch), lasts_s=LASTS_S)
        for errand in self._desk.due(self.fares(), self._now_s()):
            self._link.send(told(errand.node, Told.ASK), encode(errand.ask), lasts_s=LASTS_S)

    def _failed(self, trouble: Exception) -> None:
        said = str(trouble) if isinstance(trouble, LogbookError) else reason(trouble)
        if self.trouble is None:
            log.warning("the board's database can't be written: %s", said)
        self.trouble = said
        self._forget()
        self._engine.dispose()

    def _forget(self) -> None:
        """Forget what may not be in the database."""
        for member in (self._members or {}).values():
            member.forget()
            member.stands = None
        self._desk.forget()
