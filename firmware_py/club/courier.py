"""The courier: it reads a box's logbook and publishes, and leaves a board's requests in it.

It keeps no place of its own. What was never sent, or was lost on the way, a board notices from
the ids in ``Health`` and asks for; the logbook has it.
"""

from __future__ import annotations

import logging
import secrets
import time
from collections.abc import Callable

import msgspec
from sqlalchemy import Engine

from firmware_py.club.link import Link
from firmware_py.club.messages import (
    MOST_ENTRIES,
    Answer,
    Ask,
    Batch,
    Fetch,
    Health,
    PayloadError,
    Session,
    SessionSaid,
    Tally,
    Violation,
    decode,
    encode,
)
from firmware_py.club.outbox import Outbox
from firmware_py.club.topics import RETAINED, Said, Told, read_told, said
from firmware_py.logbook.errands import leave_errand, outcome
from firmware_py.logbook.errors import LogbookError
from firmware_py.logbook.incarnation import incarnation_of
from firmware_py.logbook.records import PulseRecord

log = logging.getLogger(__name__)

LOOK_EVERY_S = 0.02
HEALTH_EVERY_S = 1.0
NEWS_EVERY_S = 0.1
"""What comes alone goes at once; a box that has much to say says it together."""
STANDING_EVERY_S = 0.2
"""A contact that chatters is no reason to send all of them more often."""
MOST_ERRANDS = 200
"""So many requests may wait for an answer at once; a board sends the others again."""
FAREWELL_S = 2.0


class Courier:
    """One box's courier; :meth:`turn` is one look at the wire and the logbook, for one thread."""

    def __init__(
        self,
        node: str,
        engine: Engine,
        link: Link,
        *,
        wall_us: Callable[[], int],
        now_s: Callable[[], float] = time.monotonic,
    ) -> None:
        self._node = node
        self._engine = engine
        self._link = link
        self._wall_us = wall_us
        self._now_s = now_s
        self._outbox = Outbox(engine, incarnation_of(engine))
        self._run = secrets.token_hex(8)
        self._connects = 0
        self._version = -1
        self._told = _Told()
        self._errands: dict[str, tuple[str, str]] = {}
        self._health_at = self._standing_at = self._news_at = float("-inf")
        self._standing_due = False
        self.trouble: str | None = None
        self.spoke_s: float | None = None
        """When word of the box was last given to the broker, by the courier's own clock."""

    def turn(self) -> None:
        """Take what has come and send what is new; trouble is kept in words, and tried again."""
        try:
            self._take()
            if self._link.ready:
                self._tell()
            self.trouble = None
        except LogbookError as trouble:
            if self.trouble is None:
                log.warning("%s", trouble)
            self.trouble = str(trouble)

    def farewell(self) -> None:
        """Say that this box goes, as its will would; what it guards is not known from then on."""
        health = Health(here=False, incarnation=self._outbox.incarnation)
        if self._link.send(said(self._node, Said.HEALTH), encode(health), retain=True):
            self._link.sent_all(FAREWELL_S)

    def close(self) -> None:
        """Give back what was kept open."""
        self._outbox.close()

    def _take(self) -> None:
        for _ in range(self._link.came.qsize()):
            came = self._link.came.get_nowait()
            try:
                what = read_told(came.topic, self._node)
                if what is Told.ASK:
                    self._take_ask(decode(came.payload, Ask))
                elif what is Told.FETCH:
                    self._take_fetch(decode(came.payload, Fetch))
            except PayloadError as wrong:
                log.warning("%s: this can't be used: %s", came.topic, wrong)

    def _take_ask(self, ask: Ask) -> None:
        errand = f"{ask.board}:{ask.id}"
        if errand in self._errands or len(self._errands) >= MOST_ERRANDS:
            return
        columns = {name: getattr(ask, name) for name in _COLUMNS} | {"wall_us": self._wall_us()}
        leave_errand(self._engine, errand, columns)
        self._errands[errand] = ask.board, ask.id
        self._answer(errand)

    def _take_fetch(self, fetch: Fetch) -> None:
        if fetch.incarnation != self._outbox.incarnation:
            return  # It has not heard yet which one this is.
        newest, newest_remark = self._outbox.newest()
        if fetch.after > newest or fetch.remark_after > newest_remark:
            self._begin(anew=True)
            return
        batch = self._outbox.stretch(fetch.after, fetch.remark_after, fetch.sessions)
        self._send(Said.LOG, batch, fetch.board)

    def _tell(self) -> None:
        if self._connects != self._link.connects:
            connects = self._link.connects
            self._begin()
            self._connects = connects
        now = self._now_s()
        version = self._version
        if now - self._news_at >= NEWS_EVERY_S:
            version = self._outbox.version()
        if version != self._version:
            if not self._tell_news():
                return
            self._version, self._news_at = version, now
            self._standing_due = True
            by_hand = self._outbox.worked_by_hand()
            if by_hand != self._told.by_hand:
                self._told.by_hand = by_hand
                self._health_at = float("-inf")
            for errand in tuple(self._errands):
                self._answer(errand)
        if self._standing_due and now - self._standing_at >= STANDING_EVERY_S:
            self._tell_standing(now)
        if now - self._health_at >= HEALTH_EVERY_S and self._tell_health():
            self._health_at = self.spoke_s = now

    def _begin(self, *, anew: bool = False) -> None:
        """Begin to tell from where the logbook stands now; what was before, boards ask for."""
        self._outbox.incarnation = incarnation_of(self._engine, anew=anew)
        entry, remark = self._outbox.newest()
        self._told = told = _Told(entry=entry, remark=remark)
        session = self._outbox.newest_session()
        if session is not None:
            told.of_session, told.since_us = session.id, self._outbox.last_change(session.id) + 1
        self._version = -1
        self._health_at = self._standing_at = float("-inf")
        self._standing_due = True

    def _tell_news(self) -> bool:
        """Tell what was written since; false where it has to be tried again."""
        told, outbox = self._told, self._outbox
        session = outbox.newest_session()
        entries = outbox.entries(told.entry)
        remarks = outbox.remarks(told.remark)
        changed = self._changed_sessions(session.id if session else None, session)
        violations = self._changed_violations(session.id) if session else ()
        if incarnation_of(self._engine) != outbox.incarnation:
            self._begin()  # Another logbook has taken this one's place.
            return False
        batch = Batch(
            outbox.incarnation,
            after=told.entry,
            upto=entries[-1].id if entries else told.entry,
            remark_after=told.remark,
            remark_upto=remarks[-1].id if remarks else told.remark,
            entries=entries,
            remarks=remarks,
            sessions=changed,
            violations=violations,
        )
        if session is not None and session != told.session:
            about = SessionSaid(outbox.incarnation, session)
            if not self._send(Said.SESSION, about):
                return False
        if (entries or remarks or changed or violations) and not self._send(Said.LOG, batch):
            return False
        told.entry, told.remark, told.session = batch.upto, batch.remark_upto, session
        told.note(violations)
        return len(entries) < MOST_ENTRIES and len(remarks) < MOST_ENTRIES

    def _changed_sessions(self, newest: int | None, session: Session | None) -> tuple[Session, ...]:
        known = self._told.session
        if session is None or session == known:
            return ()
        if known is None or known.id == newest:
            return (session,)
        return self._outbox.sessions({known.id, session.id})

    def _changed_violations(self, session: int) -> tuple[Violation, ...]:
        told = self._told
        if told.of_session != session:
            told.of_session, told.violations, told.since_us = session, {}, 0
        found = self._outbox.changed(session, told.since_us)
        return tuple(one for one in found if told.violations.get(one.number) != one)

    def _tell_standing(self, now: float) -> None:
        standing = self._outbox.standing()
        if standing.revision != self._told.standing:
            if not self._send(Said.STANDING, standing):
                return
            self._told.standing = standing.revision
        self._standing_at, self._standing_due = now, False

    def _tell_health(self) -> bool:
        pulse = self._outbox.pulse()
        told, session = self._told, pulse.session_id if pulse else None
        health = Health(
            here=True,
            incarnation=self._outbox.incarnation,
            wall_us=self._wall_us(),
            engine=self._engine_word(pulse),
            beat=pulse.beat if pulse else 0,
            session=session,
            entry=told.entry,
            remark=told.remark,
            standing=told.standing,
            tally=self._outbox.tally(session) if session is not None else Tally(),
            run=self._run,
        )
        return self._send(Said.HEALTH, health)

    def _engine_word(self, pulse: PulseRecord | None) -> str:
        if pulse is None:
            return "absent"
        return "by-hand" if pulse.state == "guarding" and self._told.by_hand else pulse.state

    def _answer(self, errand: str) -> None:
        found = outcome(self._engine, errand)
        if found is None or found.accepted is None:
            return
        board, ask = self._errands[errand]
        if self._send(Said.ANSWER, Answer(ask, found.accepted, found.why), board):
            del self._errands[errand]

    def _send(self, what: Said, message: msgspec.Struct, board: str | None = None) -> bool:
        return self._link.send(
            said(self._node, what, board), encode(message), retain=what in RETAINED
        )


_COLUMNS = ("kind", "command", "spur", "violation", "cars", "note", "contact", "made")


class _Told:
    """How far boards have been told, since the connection began."""

    def __init__(self, entry: int = 0, remark: int = 0) -> None:
        self.entry = entry
        self.remark = remark
        self.session: Session | None = None
        self.standing = 0
        self.of_session: int | None = None
        self.violations: dict[int, Violation] = {}
        self.since_us = 0
        self.by_hand = False

    def note(self, told: tuple[Violation, ...]) -> None:
        """Note violations that were told; only those of the last instant can come up again."""
        for one in told:
            self.violations[one.number] = one
            self.since_us = max(self.since_us, _changed_us(one))
        self.violations = {
            number: one
            for number, one in self.violations.items()
            if _changed_us(one) >= self.since_us
        }


def _changed_us(one: Violation) -> int:
    return max(one.last_t_us, one.acknowledged_t_us or 0)
