"""What the writer remembers of the session it keeps, should its file be lost under it.

A new file then begins with the session as it stands, so that the board, which is read from the
log, goes on showing the truth.
"""

from __future__ import annotations

import json
from collections.abc import Iterable
from typing import Any

from msgspec.structs import asdict
from sqlalchemy import Connection, insert, select

from firmware_py.core.entries import (
    Entry,
    FaultEntry,
    ForemanEntry,
    OutputEntry,
    PhaseEntry,
    StageEntry,
    Violation,
)
from firmware_py.logbook.pending import (
    AcknowledgedJob,
    BeginJob,
    ByHandJob,
    EntryJob,
    Job,
    RepeatJob,
    ResumeJob,
)
from firmware_py.logbook.rows import session_row, violation_row, whereabouts
from firmware_py.logbook.statements import SESSION_BEGINS
from firmware_py.logbook.tables import BY_HAND, ENTRY, SESSION, VIOLATION
from firmware_py.tape.lines import line_of

_SHOWN = (StageEntry, PhaseEntry, ForemanEntry, OutputEntry, FaultEntry)
_SHOWN_WORDS = ("stage", "phase", "foreman", "output", "fault")
_VIOLATION_COLUMNS = tuple(column.name for column in VIOLATION.c)

Row = dict[str, Any]


class Memory:
    """The session's row, how things stand now in it, its violations, and the hands at outputs."""

    def __init__(self) -> None:
        self.session_id: int | None = None
        self._session: Row = {}
        self._stands: dict[str, Any] = {}
        self._latest: dict[object, Entry] = {}
        self._violations: dict[int, Row] = {}
        self._hands: dict[str, ByHandJob] = {}

    def began(self, session_id: int, job: BeginJob) -> None:
        """Take down a session that has just begun."""
        self._start(session_id, dict(zip(SESSION_BEGINS, session_row(job), strict=True)))

    def resumed(self, job: ResumeJob, connection: Connection) -> None:
        """Read a session that goes on, from its row and all of its entries.

        Raises ``ValueError`` where there is no such session.
        """
        ours = job.session_id
        found = connection.execute(select(SESSION).where(SESSION.c.id == ours)).mappings().first()
        if found is None:
            raise ValueError(f"there is no session {ours} to go on with")
        self._start(ours, dict(found))
        lines = select(ENTRY.c.line).where(ENTRY.c.session_id == ours)
        wanted = lines.where(ENTRY.c.what.in_(_SHOWN_WORDS)).order_by(ENTRY.c.id)
        for line in connection.execute(wanted).scalars():
            _fold(self._stands, json.loads(line))
        rows = connection.execute(select(VIOLATION).where(VIOLATION.c.session_id == ours))
        self._violations = {row["number"]: dict(row) for row in rows.mappings()}

    def took(self, jobs: Iterable[Job]) -> None:
        """Take down what was committed."""
        for job in jobs:
            match job:
                case EntryJob():
                    self._took_entry(job)
                case RepeatJob():
                    self._change(job.number, times=job.times, last_t_us=job.last_t_us)
                case AcknowledgedJob():
                    said = {"acknowledged_t_us": job.acknowledged_t_us, "note": job.note}
                    self._change(job.number, **said)
                case ByHandJob():
                    self._took_hand(job)
                case _:
                    pass

    def write(self, connection: Connection, why: str) -> None:
        """Give an empty logbook the session as it stands, its tape marked as lacking what was."""
        if self.session_id is None:
            return
        for entry in self._latest.values():
            _fold(self._stands, line_of(entry))
        self._latest = {}
        outset = self._stands | {"faults": [list(fault) for fault in self._stands["faults"]]}
        row = self._session | {"outset": json.dumps(outset), "tape_gap": why}
        connection.execute(insert(SESSION).values(row | {"id": self.session_id}))
        for violation in self._violations.values():
            connection.execute(insert(VIOLATION).values(violation))
        for hand in self._hands.values():
            connection.execute(insert(BY_HAND).values(asdict(hand)))

    def _start(self, session_id: int, row: Row) -> None:
        self.session_id, self._session = session_id, row
        self._latest, self._violations, self._hands = {}, {}, {}
        empty: Row = {"stages": {}, "phases": {}, "foremen": {}, "outputs": {}, "faults": []}
        stands = empty | json.loads(row["outset"])
        self._stands = stands | {"faults": {tuple(fault): None for fault in stands["faults"]}}

    def _took_entry(self, job: EntryJob) -> None:
        entry = job.entry
        if isinstance(entry, _SHOWN):
            about = getattr(entry, "output", None) or getattr(entry, "fault", None)
            self._latest[type(entry), whereabouts(entry), about] = entry
        elif isinstance(entry, Violation):
            row = violation_row(job, entry)
            self._violations[entry.number] = dict(zip(_VIOLATION_COLUMNS, row, strict=False))

    def _took_hand(self, job: ByHandJob) -> None:
        self._hands.pop(job.output, None)
        if job.shows is not None:
            self._hands[job.output] = job

    def _change(self, number: int, **changed: object) -> None:
        if number in self._violations:
            self._violations[number].update(changed)


def _fold(stands: Row, line: Row) -> None:
    """Bring an outset up to date with one entry's line."""
    match line["what"]:
        case "output":
            stands["outputs"].setdefault(line["of"], {})[line["output"]] = line["shows"]
        case "stage":
            stands["stages"][line["switch"]] = line["stage"]
        case "phase":
            stands["phases"][line["spur"]] = [line["phase"], line["next"]]
        case "foreman":
            stands["foremen"][line["spur"]] = line["is"]
        case _ if line["ended"]:
            stands["faults"].pop((line["fault"], line["at"]), None)
        case _:
            stands["faults"][line["fault"], line["at"]] = None
