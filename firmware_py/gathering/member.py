"""One box, as its board follows it: what was heard, what was gathered, and what is lacking."""

from __future__ import annotations

from collections.abc import Mapping
from typing import NamedTuple

from sqlalchemy import Connection

from firmware_py.club.lines import check_line, check_outset
from firmware_py.club.messages import (
    Batch,
    Contact,
    Fetch,
    Health,
    PayloadError,
    Session,
    SessionSaid,
    Standing,
    Tally,
    Wanted,
)
from firmware_py.club.topics import Said
from firmware_py.gathering import store
from firmware_py.gathering.attendance import Attendance, Fares
from firmware_py.layout.errors import LayoutError
from firmware_py.layout.reading import parse_layout

MOST_BATCHES = 500
ASK_AGAIN_AFTER_S = 0.5
MOST_FETCHED_SESSIONS = 50
PATIENT = 2
"""A tally may be a moment ahead of what was told with it; twice in a row it is not."""


class Stands(NamedTuple):
    """What the box's row says of it, but for the time at which it was heard."""

    state: Fares
    session_id: int | None
    incarnation: str | None
    trouble: str | None
    offset_us: int | None


class Member:
    """A box. Only the gatherer's thread may use it.

    What it says is kept until a transaction has taken it in; batches that come meanwhile are
    few, since whatever is dropped is asked for again.
    """

    def __init__(self, name: str, node_id: int) -> None:
        self.name = name
        self.node_id = node_id
        self.attendance = Attendance()
        self.troubles: dict[Said, str] = {}
        self.batches: list[Batch] = []
        self.stands: Stands | None = None
        self._session: SessionSaid | None = None
        self._standing: Standing | None = None
        self._incarnation: str | None = None
        self._position = store.Position(0, 0)
        self._sessions: dict[int, int] = {}
        self._contacts: Mapping[str, Contact] | None = None
        self._revision: int | None = None
        self._last_revision: int | None = None
        self._tally: tuple[int | None, Tally] | None = None
        self._misses = 0
        self._judged: Health | None = None
        self._barred: str | None = None
        self._gap = False
        self._told_since = False
        self._fetch_at = float("-inf")

    def hear_health(self, health: Health, now_s: float, wall_us: int, *, retained: bool) -> None:
        """Take in one word of health, with how far the box has told by then."""
        self.attendance.hear(health, now_s, wall_us, retained=retained)
        self._last_revision = health.standing
        self._told_since = False

    def hear_session(self, said: SessionSaid) -> None:
        """Keep the newest session for the next transaction. Raises :class:`PayloadError`."""
        _check_session(said.session)
        self._session = said

    def hear_standing(self, said: Standing) -> None:
        """Keep how the contacts stand for the next transaction."""
        self._standing = said
        # It is newer than the health that came before it: to have it is to be caught up.
        self._last_revision = said.revision

    def hear_batch(self, batch: Batch, *, asked: bool) -> None:
        """Keep a stretch of the log for the next transaction. Raises :class:`PayloadError`."""
        self._told_since = True
        if asked:
            self._fetch_at = float("-inf")
        for session in batch.sessions:
            _check_session(session)
        for entry in batch.entries:
            check_line(entry)
        ids = [entry.id for entry in batch.entries]
        if any(not batch.after < ident <= batch.upto for ident in ids) or sorted(set(ids)) != ids:
            raise PayloadError("the entries do not lie in the stretch that they are said to be")
        if len(self.batches) < MOST_BATCHES:
            self.batches.append(batch)
        else:
            self._gap = True

    def forget(self) -> None:
        """Forget what may not be in the database: a transaction has failed."""
        self._incarnation = None
        self._judged = None

    @property
    def waits(self) -> bool:
        """Whether anything of it waits to be taken in."""
        health = self.attendance.health
        if health is None or health.incarnation == self._barred:
            return False
        if health is not self._judged or health.incarnation != self._incarnation:
            return True
        standing = self._standing
        stands = standing is not None and standing.revision != self._revision
        return bool(self.batches) or self._session is not None or stands

    def bar(self, why: str) -> None:
        """What it says can't be written: nothing of it is kept until it says something else."""
        health = self.attendance.health
        if health is not None and health.incarnation != self._incarnation:
            self._barred = health.incarnation
        self.forget()
        self.batches.clear()
        self._session = self._standing = None
        self.troubles[Said.SESSION] = why

    def take_in(self, connection: Connection, writes: store.Writes, wall_us: int) -> bool:
        """Write what was heard; whether it has changed anything that a board shows.

        Raises ``ValueError`` for what can't be written.
        """
        health = self.attendance.health
        assert health is not None, "it waits"
        changed = False
        if health.incarnation != self._incarnation:
            self._begin(connection, health.incarnation, wall_us)
            changed = True
        changed |= self._take_session(connection)
        for batch in self.batches:
            changed |= self._take_batch(connection, writes, batch)
        return self._take_standing(connection) or changed

    def judge(self, connection: Connection) -> None:
        """Compare what its violations add up to, once they are written."""
        health = self.attendance.health
        if health is not None and health is not self._judged:
            self._judge_tally(connection, health)
            self._judged = health

    def taken(self) -> None:
        """The transaction was committed: what was kept for it can go."""
        self.batches.clear()
        self._session = None

    def how(self, now_s: float) -> Stands:
        """What its row is to say."""
        health = self.attendance.health
        fares = self.attendance.fares(now_s, caught_up=self._caught_up())
        trouble = next(iter(self.troubles.values()), None)
        if trouble is not None and fares not in (Fares.GONE, Fares.SHARED):
            fares = Fares.UNREADABLE
        offset = self.attendance.offset_us()
        return Stands(
            fares,
            self._sessions.get(health.session) if health and health.session is not None else None,
            self._incarnation,
            trouble,
            None if offset is None else round(offset, -5),
        )

    def fetch(self, connection: Connection, board: str, now_s: float) -> Fetch | None:
        """What to ask for now, ``None`` where nothing is lacking or the box was just asked."""
        health = self.attendance.health
        if health is None or self.attendance.heard_s is None or self._incarnation is None:
            return None
        if not self._lacks(health) or now_s - self._fetch_at < ASK_AGAIN_AFTER_S:
            return None
        self._fetch_at = now_s
        self._gap = False
        wanted = store.unended(connection, self._incarnation)
        if health.session is not None:
            wanted = list(dict.fromkeys([health.session, *wanted]))
        return Fetch(
            board,
            self._incarnation,
            after=self._position.entry,
            remark_after=self._position.remark,
            sessions=tuple(self._wanted(connection, one) for one in wanted[:MOST_FETCHED_SESSIONS]),
        )

    def _wanted(self, connection: Connection, session: int) -> Wanted:
        """All of a session's violations where some change was missed, else what came since."""
        if self._misses >= PATIENT or session not in self._sessions:
            return Wanted(session)
        return Wanted(session, max(0, store.last_change(connection, self._sessions[session])))

    def _lacks(self, health: Health) -> bool:
        unknown = health.session is not None and health.session not in self._sessions
        at = (health.entry, health.remark)
        wanting = any(ours < told for ours, told in zip(self._position, at, strict=True))
        # What was told after its last word of health is ahead of that, as it should be. Else the
        # box knows less than it once told: its logbook was put back, which it finds when asked.
        beyond = not self._told_since and tuple(self._position) != at
        return self._gap or unknown or self._misses >= PATIENT or wanting or beyond

    def _caught_up(self) -> bool:
        health = self.attendance.health
        return (
            health is not None
            and self._incarnation == health.incarnation
            and self._position.entry >= health.entry
            and self._position.remark >= health.remark
            and (health.session is None or health.session in self._sessions)
            and self._revision == self._last_revision
            and self._misses < PATIENT
        )

    def _begin(self, connection: Connection, incarnation: str, wall_us: int) -> None:
        at = store.position(connection, incarnation, self.node_id, wall_us)
        self._position = at
        self._sessions = store.sessions(connection, incarnation)
        self._incarnation = incarnation
        self._contacts, self._revision = None, None
        self._tally, self._misses, self._judged = None, 0, None
        store.forget_standing(connection, self.name)

    def _take_session(self, connection: Connection) -> bool:
        said = self._session
        if said is None or said.incarnation != self._incarnation:
            return False
        self._keep_session(connection, said.session)
        return True

    def _keep_session(self, connection: Connection, session: Session) -> None:
        assert self._incarnation is not None, "it was begun"
        offset = self.attendance.offset_us() or 0
        self._sessions[session.id] = store.keep_session(
            connection, self._incarnation, session, self._sessions, offset
        )

    def _take_batch(self, connection: Connection, writes: store.Writes, batch: Batch) -> bool:
        if batch.incarnation != self._incarnation:
            return False
        for session in batch.sessions:
            self._keep_session(connection, session)
        writes.add_violations(batch.violations, self._sessions)
        moved = self._take_entries(writes, batch) | self._take_remarks(writes, batch)
        if moved:
            writes.positions[batch.incarnation] = self._position
        self._tally = None if batch.violations else self._tally
        return bool(moved or batch.sessions or batch.violations)

    def _take_entries(self, writes: store.Writes, batch: Batch) -> bool:
        at = self._position.entry
        new = [one for one in batch.entries if one.id > at]
        if batch.after > at or any(one.session not in self._sessions for one in new):
            self._gap = True
            return False
        if batch.upto <= at:
            return False
        writes.add_entries(new, self._sessions)
        self._position = self._position._replace(entry=batch.upto)
        return True

    def _take_remarks(self, writes: store.Writes, batch: Batch) -> bool:
        at = self._position.remark
        if batch.remark_after > at:
            self._gap = True
            return False
        if batch.remark_upto <= at:
            return False
        new = [one for one in batch.remarks if one.id > at]
        writes.add_remarks(new, self._sessions)
        self._position = self._position._replace(remark=batch.remark_upto)
        return True

    def _take_standing(self, connection: Connection) -> bool:
        said = self._standing
        if said is None or said.incarnation != self._incarnation:
            return False
        if said.revision == self._revision:
            return False
        if self._contacts is None:
            store.forget_standing(connection, self.name)
            self._contacts = {}
        now = {one.name: one for one in said.contacts}
        changed = store.keep_standing(connection, self.name, self._contacts, now)
        self._contacts, self._revision = now, said.revision
        return changed

    def _judge_tally(self, connection: Connection, health: Health) -> None:
        if health.session not in self._sessions:
            return
        told = (health.session, health.tally)
        if self._tally != told:
            ours = self._sessions[health.session]
            self._tally = health.session, store.tally(connection, ours)
        self._misses = 0 if self._tally == told else self._misses + 1


def _check_session(session: Session) -> None:
    check_outset(session)
    try:
        parse_layout(session.layout_toml, session.layout_path)
    except LayoutError as wrong:
        raise PayloadError(f"the layout of session {session.id} can't be read: {wrong}") from None
