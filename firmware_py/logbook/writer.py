"""The logbook's one writer: it takes what waits and commits it, and does not give up."""

from __future__ import annotations

import threading
import time
from collections.abc import Callable

from sqlalchemy import Connection, Engine
from sqlalchemy.exc import DataError, IntegrityError

from firmware_py.logbook.backlog import Backlog
from firmware_py.logbook.errors import reason
from firmware_py.logbook.jobs import BeginJob, Job
from firmware_py.logbook.rows import Step, rows_by_step
from firmware_py.logbook.statements import Statements

_FIRST_PAUSE_S = 0.05
_LONGEST_PAUSE_S = 2.0
_UNTAKEABLE = (IntegrityError, DataError, OverflowError, TypeError, ValueError)
"""What a record itself is at fault for: trying it again would fail for ever."""


class Writer:
    """Owns one connection and one thread. ``remark`` is how it tells of trouble that is over."""

    def __init__(self, engine: Engine, backlog: Backlog, remark: Callable[[str], object]) -> None:
        self._engine = engine
        self._backlog = backlog
        self._remark = remark
        self._statements = Statements(engine.dialect)
        self._connection: Connection | None = None
        self._give_up = threading.Event()
        self._failing_since: float | None = None
        self._last_error: str | None = None
        self._drops_told = 0
        self._set_aside = 0
        self._thread = threading.Thread(target=self._run, name="logbook-writer", daemon=True)
        self._thread.start()

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
                    self._disconnect()
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
        connection = self._connected()
        first = batch[0]
        if isinstance(first, BeginJob):
            self._begin(connection, first)
            return
        self._statements.run(connection, rows_by_step(batch))
        connection.commit()

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
        job.reply.session_id = session_id
        job.reply.there.set()

    def _connected(self) -> Connection:
        if self._connection is None:
            self._connection = self._engine.connect()
        return self._connection

    def _disconnect(self) -> None:
        """Let the connection go, and with it whatever was not committed."""
        connection, self._connection = self._connection, None
        if connection is not None:
            connection.invalidate()
            connection.close()

    def _failed(self, trouble: Exception) -> None:
        self._last_error = reason(trouble)
        if self._failing_since is None:
            self._failing_since = time.monotonic()
        self._disconnect()

    def _succeeded(self, count: int) -> None:
        said = self._healed()
        self._failing_since = self._last_error = None
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
        self._disconnect()
        self._set_aside += 1
        if isinstance(job, BeginJob):
            job.reply.error = reason(trouble)
            job.reply.there.set()
        self._backlog.done(1)
        self._remark(f"the logbook can't take this record ({reason(trouble)}): {job}")
