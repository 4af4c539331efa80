"""What waits to be written: one frozen record for each thing that the engine has told.

Fields of jobs that become one row stand in the order of that row's statement.
"""

from __future__ import annotations

import threading

import msgspec

from firmware_py.core.entries import Entry


class TapeJob(msgspec.Struct, frozen=True, gc=False):
    """A line of the tape: a reading, or an order."""

    session_id: int
    t_us: int
    contact: str | None
    made: bool | None
    command: str | None
    spur: str | None
    violation: int | None
    cars: int | None


class EntryJob(msgspec.Struct, frozen=True):
    """An entry of the core, not yet put into words: that is the writer's work."""

    session_id: int
    wall_us: int
    entry: Entry


class RepeatJob(msgspec.Struct, frozen=True, gc=False):
    """A violation that came again."""

    times: int
    last_t_us: int
    session_id: int
    number: int


class AcknowledgedJob(msgspec.Struct, frozen=True, gc=False):
    """A violation that someone has acknowledged."""

    acknowledged_t_us: int
    note: str | None
    session_id: int
    number: int


class StandingJob(msgspec.Struct, frozen=True, gc=False):
    """How a contact stands now."""

    contact: str
    raw: bool | None
    settled: bool | None
    edges: int
    wall_us: int


class AnswerJob(msgspec.Struct, frozen=True, gc=False):
    """What the engine answers to a request."""

    answered_wall_us: int
    accepted: bool
    why: str | None
    request_id: int


class ByHandJob(msgspec.Struct, frozen=True, gc=False):
    """A hand at an output, ``thing.output``; ``shows`` is ``None`` where it is off again."""

    output: str
    shows: str | None
    whence: str
    since_t_us: int
    until_t_us: int
    until_wall_us: int


class RemarkJob(msgspec.Struct, frozen=True, gc=False):
    """What the engine has to say for itself."""

    session_id: int | None
    t_us: int | None
    wall_us: int
    text: str


class PulseJob(msgspec.Struct, frozen=True, gc=False):
    """One beat of the engine's pulse."""

    state: str
    session_id: int | None


class EndJob(msgspec.Struct, frozen=True, gc=False):
    """The end of a session."""

    ended_wall_us: int
    ended_t_us: int
    session_id: int


class Reply:
    """Where the writer puts a new session's id, and where its taker waits for it.

    Either the taker gives up or the writer commits, never both: a session that nobody took
    would be the newest, and stay empty.
    """

    def __init__(self) -> None:
        self.there = threading.Event()
        self.session_id: int | None = None
        self.error: str | None = None
        self._lock = threading.Lock()
        self._committing = False
        self._given_up = False

    def give_up(self) -> bool:
        """Wait no more; false while the writer commits, which is worth waiting for."""
        with self._lock:
            self._given_up = not self._committing
            return self._given_up

    def committing(self, now: bool) -> bool:
        """Say that the commit begins, or has failed; false if the taker has given up."""
        with self._lock:
            self._committing = now and not self._given_up
            return not self._given_up


class BeginJob(msgspec.Struct, frozen=True):
    """The beginning of a session; its id goes to ``reply``."""

    layout_name: str
    layout_path: str
    layout_toml: str
    simulated: bool
    began_wall_us: int
    outset: str
    opened: bool
    reply: Reply


class ResumeJob(msgspec.Struct, frozen=True, gc=False):
    """A session of the log goes on."""

    session_id: int


class MendJob(msgspec.Struct, frozen=True, gc=False):
    """Someone has found the database's file damaged, and says how."""

    found: str


Job = (
    TapeJob
    | EntryJob
    | RepeatJob
    | AcknowledgedJob
    | StandingJob
    | AnswerJob
    | ByHandJob
    | RemarkJob
    | PulseJob
    | EndJob
    | BeginJob
    | ResumeJob
    | MendJob
)

ALONE = (BeginJob, ResumeJob, MendJob)
"""Jobs that are no mere rows; each is taken by itself, for what follows builds on it."""
