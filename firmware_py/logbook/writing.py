"""The engine's side of the logbook."""

from __future__ import annotations

import json
import time
from collections.abc import Callable, Mapping
from contextlib import AbstractContextManager

from sqlalchemy import Engine

from firmware_py.core.entries import Entry
from firmware_py.logbook.backlog import Backlog
from firmware_py.logbook.errors import LogbookError, place
from firmware_py.logbook.pending import (
    AcknowledgedJob,
    AnswerJob,
    BeginJob,
    ByHandJob,
    EndJob,
    EntryJob,
    MendJob,
    PulseJob,
    RemarkJob,
    RepeatJob,
    Reply,
    ResumeJob,
    StandingJob,
    TapeJob,
)
from firmware_py.logbook.records import HealthRecord
from firmware_py.logbook.texts import storable
from firmware_py.logbook.writer import Writer

ROOM = 200_000
GROUP_S = 0.5


def wall_now_us() -> int:
    """Read the wall clock: microseconds since 1970 UTC."""
    return time.time_ns() // 1_000


class Keeper:
    """Takes down what the engine tells it, in order, and writes it from a thread of its own.

    Every method but :meth:`begin_session`, :meth:`flush` and :meth:`close` returns at once,
    whatever the database does. Trouble is in :meth:`health`, and in a remark once it is over.
    ``room`` bounds the queue: raw readings that find it full are dropped and counted; nothing
    else is ever dropped. ``group_s`` is how long raw readings and standing may wait.
    """

    def __init__(
        self,
        engine: Engine,
        *,
        room: int = ROOM,
        group_s: float = GROUP_S,
        wall_us: Callable[[], int] = wall_now_us,
    ) -> None:
        self._place = place(engine)
        self._wall_us = wall_us
        self._session_id: int | None = None
        self._backlog = Backlog(room, group_s)
        self._writer = Writer(engine, self._backlog, self._own_remark)

    @property
    def session_id(self) -> int | None:
        """The session that is being kept, or ``None`` before the first one."""
        return self._session_id

    def begin_session(  # noqa: PLR0913 - one argument for each fact of a session
        self,
        *,
        layout_name: str,
        layout_path: str,
        layout_toml: str,
        simulated: bool,
        outset: Mapping[str, object],
        opened: bool = True,
        wall_us: int | None = None,
        timeout: float = 30.0,
    ) -> int:
        """Begin a session and wait until it is committed; returns its id.

        How contacts stood in an earlier session is forgotten. ``outset`` has the shape that
        ``schema.SessionRow`` gives, ``opened`` says whether it is for work.
        Raises :class:`LogbookError` if that takes too long.
        """
        reply = Reply()
        began = self._wall_us() if wall_us is None else wall_us
        words = storable(layout_name), storable(layout_path), storable(layout_toml)
        job = BeginJob(*words, simulated, began, json.dumps(outset), opened, reply)
        self._sure(self._backlog.put(job))
        while not reply.there.wait(timeout):
            if reply.give_up():
                break
        if reply.session_id is None:
            why = reply.error or self._writer.last_error or "the database does not answer"
            raise LogbookError(f"{self._place}: the session can't begin: {why}")
        self._session_id = reply.session_id
        return reply.session_id

    def together(self) -> AbstractContextManager[None]:
        """Have all that is told within the ``with`` block committed as one, or not at all.

        So an order, what came of it and its answer can't be torn apart by a kill. The block
        must not wait for the logbook.
        """
        return self._backlog.together

    def resume_session(self, session_id: int) -> None:
        """Go on with a session that a stop has cut off; what is in the log stays as it is.

        ``session_id`` is what :func:`~firmware_py.logbook.resuming.unended` found. How contacts
        stood is kept. Returns at once.
        """
        self._sure(self._backlog.put(ResumeJob(session_id)))
        self._session_id = session_id

    def mend(self, found: str) -> None:
        """Tell that the logbook's file was found damaged, and how: it is set aside.

        A new file goes on with the session as it stands. Returns at once.
        """
        self._sure(self._backlog.put(MendJob(found)))

    def tape(  # noqa: PLR0913 - one argument for each field of a line
        self,
        t_us: int,
        contact: str | None = None,
        made: bool | None = None,
        *,
        command: str | None = None,
        spur: str | None = None,
        violation: int | None = None,
        cars: int | None = None,
    ) -> None:
        """Take down a raw reading (``contact``, ``made``) or an order (``command``, the rest)."""
        job = TapeJob(self._session(), t_us, contact, made, command, spur, violation, cars)
        if command is None:
            self._sure(self._backlog.put_reading(job))
        else:
            self._sure(self._backlog.put(job))

    def entry(self, entry: Entry, wall_us: int) -> None:
        """Take down what the core answered; a violation also begins a row of its own."""
        self._sure(self._backlog.put(EntryJob(self._session(), wall_us, entry)))

    def repeat(self, number: int, times: int, t_us: int) -> None:
        """Take down that a violation came again, ``times`` in all and last at ``t_us``."""
        self._sure(self._backlog.put(RepeatJob(times, t_us, self._session(), number)))

    def acknowledged(self, number: int, t_us: int, note: str | None = None) -> None:
        """Take down that a violation was acknowledged."""
        job = AcknowledgedJob(t_us, storable(note), self._session(), number)
        self._sure(self._backlog.put(job))

    def standing(
        self, contact: str, raw: bool | None, settled: bool | None, edges: int, wall_us: int
    ) -> None:
        """Take down how a contact stands; only the latest is kept. ``None`` is unknown."""
        job = StandingJob(contact, raw, settled, edges, wall_us)
        self._sure(self._backlog.put_standing(job))

    def answer(self, request_id: int, accepted: bool, why: str | None = None) -> None:
        """Take down what became of a request; ``why`` where it was refused."""
        job = AnswerJob(self._wall_us(), accepted, storable(why), request_id)
        self._sure(self._backlog.put(job))

    @property
    def writes(self) -> bool:
        """Whether the latest try to write has not failed."""
        return self._writer.last_error is None

    def by_hand(  # noqa: PLR0913 - one argument for each fact of a hand
        self,
        output: str,
        shows: str,
        *,
        whence: str,
        since_t_us: int,
        until_t_us: int,
        until_wall_us: int,
    ) -> None:
        """Take down that an output (``thing.output``) is worked by hand, for how long and whose."""
        told = storable(output), shows, storable(whence)
        self._sure(self._backlog.put(ByHandJob(*told, since_t_us, until_t_us, until_wall_us)))

    def hand_off(self, output: str) -> None:
        """Take down that an output shows again what the core says."""
        self._sure(self._backlog.put(ByHandJob(output, None, "", 0, 0, 0)))

    def remark(self, text: str, t_us: int | None = None) -> None:
        """Take down something that the engine has to say for itself."""
        self._sure(self._backlog.put(self._remark_job(text, t_us)))

    def pulse(self, state: str) -> None:
        """Take down one beat: the engine is well, and ``starting``, ``guarding`` or ``stopped``."""
        self._sure(self._backlog.put_pulse(PulseJob(state, self._session_id)))

    def end_session(self, t_us: int, session_id: int | None = None) -> None:
        """Take down that the session ended at ``t_us``: this one, or the one that is given."""
        ended = self._session() if session_id is None else session_id
        self._sure(self._backlog.put(EndJob(self._wall_us(), t_us, ended)))

    def flush(self, timeout: float = 10.0) -> bool:
        """Wait until all that was told before is committed; false if it takes too long."""
        return self._backlog.flush(timeout)

    def close(self, timeout: float = 10.0) -> bool:
        """Commit what is left and end the thread; false if some of it could not be written."""
        self._backlog.close()
        self._writer.stop(timeout)
        return self._backlog.queued == 0

    @property
    def alive(self) -> bool:
        """Whether the writing thread runs."""
        return self._writer.alive

    def health(self) -> HealthRecord:
        """Say how the writing goes."""
        return HealthRecord(
            queued=self._backlog.queued,
            last_error=self._writer.last_error,
            drops=self._backlog.drops,
            set_aside=self._writer.set_aside,
        )

    def _own_remark(self, text: str) -> None:
        self._backlog.put(self._remark_job(text, None), late=True)

    def _remark_job(self, text: str, t_us: int | None) -> RemarkJob:
        return RemarkJob(self._session_id, t_us, self._wall_us(), storable(text))

    def _session(self) -> int:
        if self._session_id is None:
            raise LogbookError(f"{self._place}: no session has begun; begin one first")
        return self._session_id

    def _sure(self, taken: bool) -> None:
        if not taken:
            raise LogbookError(f"{self._place}: this logbook is closed; nothing more is taken")
