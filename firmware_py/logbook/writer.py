"""The logbook's one writer: it takes what waits and commits it, and does not give up."""

from __future__ import annotations

import threading
import time
from collections.abc import Callable

import msgspec
from sqlalchemy import Connection, Engine, delete, func, select
from sqlalchemy.exc import DataError, IntegrityError

from firmware_py.logbook.backlog import Backlog
from firmware_py.logbook.damage import is_damage
from firmware_py.logbook.errors import reason
from firmware_py.logbook.ground import Ground
from firmware_py.logbook.memory import Memory
from firmware_py.logbook.pending import BeginJob, Job, MendJob, RemarkJob, ResumeJob
from firmware_py.logbook.rows import Step, Values, rows_by_step
from firmware_py.logbook.statements import Statements
from firmware_py.logbook.tables import BY_HAND, ENTRY

_FIRST_PAUSE_S = 0.05
_LONGEST_PAUSE_S = 2.0
_UNTAKEABLE = (IntegrityError, DataError, OverflowError, TypeError, ValueError)
"""What a record itself is at fault for: trying it again would fail for ever."""
_SURE_OF_DAMAGE = 2
"""Tries, each on a connection of its own, after which a database that says so is damaged."""


class Writer:
    """Owns one connection and one thread. ``remark`` is how it tells of trouble that is over."""

    def __init__(self, engine: Engine, backlog: Backlog, remark: Callable[[str], object]) -> None:
        self._engine = engine
        self._backlog = backlog
        self._remark = remark
        self._statements = Statements(engine.dialect)
        self._connection: Connection | None = None
        self._memory = Memory()
        self._ground = Ground(engine, self._memory)
        self._entry_id = 0
        self._goes_on = False
        self._damaged = 0
        self._give_up = threading.Event()
        self._failing_since: float | None = None
        self._last_error: str | None = None
        self._drops_noted = self._drops_told = 0
        self._set_aside = 0
        self._thread = threading.Thread(target=self._run, name="logbook-writer", daemon=True)
        self._thread.start()

    @property
    def alive(self) -> bool:
        """Whether the thread runs."""
        return self._thread.is_alive()

    @property
    def last_error(self) -> str | None:
        """Why the latest try failed, or ``None`` if it did not."""
        return self._last_error

    @property
    def set_aside(self) -> int:
        """How many records the database will never take; each is told of in a remark."""
        return self._set_aside

    def stop(self, timeout: float) -> None:
        """Wait for the thread, which ends when its closed backlog is empty, or give up then."""
        self._thread.join(timeout)
        self._give_up.set()
        self._thread.join(_LONGEST_PAUSE_S)

    def _run(self) -> None:
        while batch := self._backlog.take():
            if not self._persist(batch):
                break
        self._disconnect()

    def _persist(self, batch: list[Job]) -> bool:
        """Commit a batch however long that takes; false if told to give up before it is done."""
        pause = _FIRST_PAUSE_S
        while True:
            try:
                self._commit(batch)
            except _UNTAKEABLE as trouble:
                if len(batch) > 1:
                    self._let_go()
                    return all(self._persist([job]) for job in batch)
                self._put_aside(batch[0], trouble)
                return True
            except Exception as trouble:  # The engine must not lose its logbook to any trouble.
                self._failed(trouble)
                if self._give_up.wait(pause):
                    return False
                pause = min(2 * pause, _LONGEST_PAUSE_S)
            else:
                self._succeeded(len(batch))
                return True

    def _commit(self, batch: list[Job]) -> None:
        first = batch[0]
        if isinstance(first, MendJob):
            self._begin_anew(first.found)
            return
        connection = self._connected()
        if isinstance(first, BeginJob):
            self._begin(connection, first)
        elif isinstance(first, ResumeJob):
            self._memory.resumed(first, connection)
            connection.execute(delete(BY_HAND))  # No hand outlasts the engine that showed it.
            connection.commit()
        else:
            drops = self._backlog.drops  # There may be more of them before this is committed.
            rows = self._rows(batch, drops)
            self._statements.run(connection, rows)
            connection.commit()
            self._drops_noted = drops if self._memory.session_id is not None else 0
            self._entry_id += len(rows.get(Step.ENTRY, rows.get(Step.NUMBERED_ENTRY, ())))
            self._goes_on = self._goes_on and Step.NUMBERED_ENTRY not in rows
            self._memory.took(batch)

    def _rows(self, batch: list[Job], drops: int) -> dict[Step, list[Values]]:
        """The batch's rows. The first entries of a new file carry on the numbers of the old one.

        Whoever reads on after an id must not miss an entry because its file is another one.
        Readings that were dropped are noted together with what comes after them.
        """
        rows = rows_by_step(batch)
        if self._goes_on and Step.ENTRY in rows:
            numbered = enumerate(rows.pop(Step.ENTRY), self._entry_id + 1)
            rows[Step.NUMBERED_ENTRY] = [(id_, *row) for id_, row in numbered]
        session_id = self._memory.session_id
        if drops > self._drops_noted and session_id is not None:
            rows[Step.GAP] = [(f"{drops} raw readings were dropped", session_id)]
        return rows

    def _begin(self, connection: Connection, job: BeginJob) -> None:
        [row] = rows_by_step([job])[Step.BEGIN]
        session_id = self._statements.begin(connection, row)
        if not job.reply.committing(True):
            connection.rollback()
            return
        try:
            connection.commit()
        except BaseException:
            job.reply.committing(False)
            raise
        self._memory.began(session_id, job)
        job.reply.session_id = session_id
        job.reply.there.set()

    def _connected(self) -> Connection:
        if self._ground.is_lost():
            said = self._ground.recover(self._connection)
            self._disconnect()
            self._remark(said)
        if self._connection is None:
            self._connection = self._engine.connect()
            newest = self._connection.scalar(select(func.max(ENTRY.c.id))) or 0
            self._connection.rollback()
            self._ground.connected()
            self._goes_on = newest < self._entry_id
            self._entry_id = max(self._entry_id, newest)
        return self._connection

    def _begin_anew(self, found: str) -> None:
        self._disconnect()
        self._remark(self._ground.begin_anew(found))

    def _let_go(self) -> None:
        """Give up what was not committed; keep a connection that alone still holds the log."""
        if self._connection is not None and self._ground.is_lost():
            self._connection.rollback()
        else:
            self._disconnect()

    def _disconnect(self) -> None:
        """Let the connection go, and with it whatever was not committed."""
        connection, self._connection = self._connection, None
        self._ground.disconnected()
        if connection is not None:
            connection.invalidate()
            connection.close()

    def _failed(self, trouble: Exception) -> None:
        self._last_error = reason(trouble)
        if self._failing_since is None:
            self._failing_since = time.monotonic()
        try:
            self._let_go()
            self._damaged = self._damaged + 1 if is_damage(trouble) else 0
            if self._damaged >= _SURE_OF_DAMAGE and not self._ground.is_lost():
                self._begin_anew(self._last_error)
                self._damaged = 0
        except Exception as more:  # Mending may fail as well, and is tried again.
            self._last_error = reason(more)

    def _succeeded(self, count: int) -> None:
        said = self._healed()
        self._failing_since = self._last_error = None
        self._damaged = 0
        self._backlog.done(count)
        if said:
            self._remark(said)

    def _healed(self) -> str:
        """Put into words the trouble that this commit has ended; empty if there was none."""
        said = []
        if self._failing_since is not None:
            lasted = time.monotonic() - self._failing_since
            said.append(f"the logbook could not be written for {lasted:.1f} s: {self._last_error}")
        drops = self._backlog.drops - self._drops_told
        if drops:
            self._drops_told += drops
            said.append(f"{drops} raw readings were dropped, so the session's tape has a gap")
        return "; ".join(said)

    def _put_aside(self, job: Job, trouble: Exception) -> None:
        self._let_go()
        self._set_aside += 1
        if isinstance(job, BeginJob):
            job.reply.error = reason(trouble)
            job.reply.there.set()
        self._backlog.done(1)
        if isinstance(job, RemarkJob):
            # A remark on it would be refused in turn, and so on for ever.
            if job.session_id is not None:
                self._backlog.put(msgspec.structs.replace(job, session_id=None), late=True)
            return
        self._remark(f"the logbook can't take this record ({reason(trouble)}): {job}")
