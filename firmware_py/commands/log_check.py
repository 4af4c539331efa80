"""``spurlock log --verify``: whether a logbook is whole and its tapes replay to what it logged."""

from __future__ import annotations

import io
import json
from collections.abc import Iterator
from itertools import zip_longest
from typing import TYPE_CHECKING, Any, BinaryIO, TextIO, cast

from firmware_py.commands.log_words import happened
from firmware_py.layout.errors import LayoutError, printable
from firmware_py.layout.reading import parse_layout
from firmware_py.logbook.errors import LogbookError
from firmware_py.logbook.reading import Reader
from firmware_py.logbook.records import EntryRecord, SessionRecord
from firmware_py.logbook.tapes import tape_lines
from firmware_py.logbook.verifying import faults_of_database, faults_of_session
from firmware_py.tape.errors import TapeError
from firmware_py.tape.lines import line_of
from firmware_py.tape.reading import TapeReader
from firmware_py.tape.replay import replay

if TYPE_CHECKING:
    from sqlalchemy import Engine

PAGE = 1_000


def verify(engine: Engine, sessions: list[SessionRecord], out: TextIO) -> bool:
    """Write what was checked and what is wrong; the answer is whether all is well."""
    well = _write(out, "The database", list(faults_of_database(engine)), "sound")
    for session in sessions:
        try:
            faults = list(faults_of_session(engine, session.id))
            played = _Played(engine, session)
            if not faults:  # Of rows that don't fit together, a replay could only say so again.
                faults += played.faults()
        except LogbookError as trouble:
            faults, says = [str(trouble)], ""
        else:
            says = played.says
        well = _write(out, f"Session {session.id}", faults, says) and well
    return well


def _write(out: TextIO, about: str, faults: list[str], says: str) -> bool:
    for fault in faults:
        out.write(printable(f"{about}: WRONG: {fault}") + "\n")
    if not faults:
        out.write(printable(f"{about}: {says}") + "\n")
    return not faults


class _Played:
    """A session's tape, played on its own layout and compared with its entries."""

    def __init__(self, engine: Engine, session: SessionRecord) -> None:
        self._engine = engine
        self._session = session
        self.says = ""

    def faults(self) -> Iterator[str]:
        """The first difference, if there is one."""
        session = self._session
        if session.tape_gap is not None:
            self.says = f"fits together; its tape is not whole ({session.tape_gap}), so not played"
            return
        # What is logged from now on may not be compared: its cause may not be on the tape.
        last = Reader(self._engine).newest_entries(session.id, 1)
        lines = _Stream(tape_lines(self._engine, session.id))
        try:
            layout = parse_layout(session.layout_toml, session.layout_path)
            # A reader of tapes asks its stream for lines and nothing else.
            tape = TapeReader(layout, cast(BinaryIO, lines), "its tape")
            played = map(line_of, replay(layout, tape))
            count = 0
            for logged, line in zip_longest(self._logged(last), played):
                if logged is None and self._may_come_later(line, last):
                    break
                if logged is None or logged.line != line:
                    yield _difference(logged, line)
                    return
                count += 1
        except (LayoutError, TapeError) as error:
            yield f"its tape can't be played: {error}"
            return
        entries = "1 entry" if count == 1 else f"{count} entries"
        self.says = f"its tape replays to the {entries} that it logged"

    def _logged(self, last: list[EntryRecord]) -> Iterator[EntryRecord]:
        reader, after = Reader(self._engine), 0
        until = last[0].id if last else 0
        while page := reader.entries(self._session.id, after, PAGE):
            after = page[-1].id
            yield from (entry for entry in page if entry.id <= until)
            if after >= until:
                return

    def _may_come_later(self, line: dict[str, Any] | None, last: list[EntryRecord]) -> bool:
        """Whether a session that has not ended may log this yet, or was cut off before it."""
        if self._session.ended_t_us is not None or line is None:
            return False
        return not last or line["t"] >= last[0].line["t"]


def _difference(logged: EntryRecord | None, line: dict[str, Any] | None) -> str:
    was = f"it logged: {_told(logged.line)}" if logged else "it logged no more"
    plays = f"its tape gives: {_told(line)}" if line else "its tape gives no more"
    return f"{was}; {plays}"


def _told(line: dict[str, Any]) -> str:
    return f"at {line['t']} s, {line['what']}, {happened(line['what'], line)}"


class _Stream(io.RawIOBase):
    """A tape as a stream of bytes whose lines are made as they are read."""

    def __init__(self, lines: Iterator[dict[str, Any]]) -> None:
        super().__init__()
        self._lines = lines

    def readline(self, size: int | None = -1, /) -> bytes:
        """The next line; no line of a tape is as long as any size that is asked for."""
        line = next(self._lines, None)
        return b"" if line is None else json.dumps(line).encode() + b"\n"
