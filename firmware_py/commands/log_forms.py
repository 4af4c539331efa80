"""The forms in which a session's log is written out: text, a table, lines of JSON, a tape."""

from __future__ import annotations

import csv
import json
import time
from collections.abc import Iterator
from heapq import merge
from typing import TYPE_CHECKING, Protocol, TextIO

from firmware_py.commands.log_choice import Choice, Chosen
from firmware_py.commands.log_words import (
    entry_words,
    happened,
    remark_words,
    session_words,
    wall,
)
from firmware_py.logbook.reading import Reader
from firmware_py.logbook.records import EntryRecord, RemarkRecord, SessionRecord, ViolationRecord
from firmware_py.logbook.tapes import tape_lines

if TYPE_CHECKING:
    from sqlalchemy import Engine

PAGE = 1_000
LOOK_EVERY_S = 0.2

Told = EntryRecord | RemarkRecord


class Form(Protocol):
    """How entries are written, and whether the engine's remarks go with them."""

    remarks: bool

    def head(self, session: SessionRecord, violations: list[ViolationRecord]) -> None:
        """Begin a session, or learn how its violations stand by now."""

    def tell(self, told: Told) -> None:
        """Write one thing."""


class Text:
    """A line in plain words for each thing that happened."""

    def __init__(self, out: TextIO, *, remarks: bool) -> None:
        self.remarks = remarks
        self._out = out
        self._violations: dict[int, ViolationRecord] = {}

    def head(self, session: SessionRecord, violations: list[ViolationRecord]) -> None:
        """Learn how the violations stand."""
        self._violations = {violation.number: violation for violation in violations}

    def tell(self, told: Told) -> None:
        """Write one line."""
        if isinstance(told, RemarkRecord):
            self._out.write(remark_words(told) + "\n")
            return
        number = told.line.get("number") if told.what == "violation" else None
        violation = self._violations.get(number) if isinstance(number, int) else None
        self._out.write(entry_words(told, violation) + "\n")


class Table:
    """Comma-separated values, as RFC 4180 has them; the last column is the entry's own line."""

    remarks = False

    def __init__(self, out: TextIO) -> None:
        self._table = csv.writer(out)
        self._session = 0
        self._table.writerow(["session", "t", "wall", "what", "at", "spur", "says", "line"])

    def head(self, session: SessionRecord, violations: list[ViolationRecord]) -> None:
        """Learn which session it is."""
        self._session = session.id

    def tell(self, told: Told) -> None:
        """Write one row."""
        if isinstance(told, EntryRecord):
            t, said = told.line["t"], happened(told.what, told.line)
            row = (wall(told.wall_us), told.what, told.at, told.spur, said, json.dumps(told.line))
            self._table.writerow([self._session, t, *row])


class Lines:
    """JSON Lines: the very lines that a replay of the session's tape prints."""

    remarks = False

    def __init__(self, out: TextIO) -> None:
        self._out = out

    def head(self, session: SessionRecord, violations: list[ViolationRecord]) -> None:
        """Nothing: a replay has no head either."""

    def tell(self, told: Told) -> None:
        """Write one line."""
        if isinstance(told, EntryRecord):
            self._out.write(json.dumps(told.line) + "\n")


def write_tape(engine: Engine, session: SessionRecord, out: TextIO) -> None:
    """Write a session's tape. Raises ``LogbookError``."""
    for line in tape_lines(engine, session.id):
        out.write(json.dumps(line) + "\n")


def write_sessions(reader: Reader, out: TextIO) -> None:
    """Write a line for each session, the newest first, with what it holds."""
    for session in reader.sessions(PAGE):
        violations = reader.violations(session.id)
        still_open = sum(one.acknowledged_t_us is None for one in violations)
        count = "1 violation" if len(violations) == 1 else f"{len(violations)} violations"
        out.write(f"{session_words(session)}  {count}, {still_open} not acknowledged\n")


class Lister:
    """Writes a session's entries, and what is logged later if asked to follow."""

    def __init__(self, reader: Reader, choice: Choice, form: Form, out: TextIO) -> None:
        self._reader = reader
        self._choice = choice
        self._form = form
        self._out = out
        self._entry_id = self._remark_id = 0

    def write(self, session: SessionRecord) -> None:
        """Write what is logged of a session and was not written before."""
        chosen = self._choice.of(session)
        self._form.head(session, self._reader.violations(session.id))
        remarks = self._remarks(session) if self._form.remarks else iter(())
        # By the wall's time, on which a step may misplace a remark; entries keep their order.
        for told in merge(self._entries(session, chosen), remarks, key=lambda one: one.wall_us):
            self._form.tell(told)
        self._out.flush()

    def follow(self, session: SessionRecord, *, newest: bool) -> None:
        """Write what there is and all that comes, until interrupted.

        Where the ``newest`` session is wanted, a newer one is gone on to; another one is left
        once it has ended.
        """
        seen = None
        while True:
            if (version := self._reader.version()) != seen:
                seen = version
                self.write(session)
                found = self._reader.session() if newest else self._again(session)
                if found is not None and newest and found.id != session.id:
                    self._entry_id = self._remark_id = 0
                    session, seen = found, None
                    continue
                if not newest and (found is None or found.ended_t_us is not None):
                    self.write(session)
                    return
            time.sleep(LOOK_EVERY_S)

    def _again(self, session: SessionRecord) -> SessionRecord | None:
        found = self._reader.sessions(PAGE)
        return next((one for one in found if one.id == session.id), None)

    def _entries(self, session: SessionRecord, chosen: Chosen) -> Iterator[Told]:
        kinds = self._choice.kinds
        while page := self._reader.entries(session.id, self._entry_id, PAGE, kinds):
            self._entry_id = page[-1].id
            yield from filter(chosen.wants, page)

    def _remarks(self, session: SessionRecord) -> Iterator[Told]:
        while page := self._reader.remarks_after(session.id, self._remark_id, PAGE):
            self._remark_id = page[-1].id
            yield from page
