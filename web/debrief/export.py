"""The debrief as tables for a spreadsheet: RFC 4180, with a header row. Pure.

A cell of text that a spreadsheet would take for a formula gets an apostrophe before it; numbers
are left as they are, so that a negative one stays a number.
"""

from __future__ import annotations

import csv
import io
import json
from collections.abc import Iterable, Iterator, Sequence
from datetime import UTC, datetime

from firmware_py.logbook.records import EntryRecord, ViolationRecord
from web.debrief.naming import violation_happened
from web.debrief.study import Debrief

Cell = str | int | float | None
Table = Iterable[Sequence[Cell]]

STARTS_FORMULA = ("=", "+", "-", "@", "\t", "\r")


def safe(cell: Cell) -> Cell:
    """A cell that no spreadsheet runs.

    >>> safe("=1+1"), safe("flag"), safe(-3)
    ("'=1+1", 'flag', -3)
    """
    if isinstance(cell, str) and cell.startswith(STARTS_FORMULA):
        return f"'{cell}"
    return cell


def written(table: Table) -> Iterator[str]:
    """The rows as text, one at a time, each with its CRLF."""
    buffer = io.StringIO(newline="")
    writer = csv.writer(buffer, lineterminator="\r\n")
    for row in table:
        writer.writerow(["" if cell is None else safe(cell) for cell in row])
        yield buffer.getvalue()
        buffer.seek(0)
        buffer.truncate()


ENTRY_COLUMNS = ("seconds", "wall_time_utc", "what", "at", "spur", "details")
STEP_COLUMNS = ("spur", "phase", "step", "began_seconds", "seconds", "ended")
VIOLATION_COLUMNS = (
    "number",
    "seconds",
    "wall_time_utc",
    "rule",
    "at",
    "spur",
    "missing",
    "times",
    "last_seconds",
    "acknowledged_seconds",
    "note",
    "happened",
)
_TOLD_APART = frozenset({"t", "what", "spur"})


def entries_table(entries: Iterable[EntryRecord]) -> Iterator[Sequence[Cell]]:
    """Every entry of the session; ``details`` is JSON with what belongs to its kind."""
    yield ENTRY_COLUMNS
    for one in entries:
        details = {key: value for key, value in one.line.items() if key not in _TOLD_APART}
        told = json.dumps(details, ensure_ascii=False)
        yield seconds(one.t_us), utc(one.wall_us), one.what, one.at, one.spur, told


def steps_table(debrief: Debrief) -> Iterator[Sequence[Cell]]:
    """Every stay at a step."""
    yield STEP_COLUMNS
    for one in debrief.evening.stays:
        ended = "no" if one.open else "yes"
        yield one.spur, one.phase, one.step, seconds(one.began_us), seconds(one.lasts_us), ended


def violations_table(debrief: Debrief) -> Iterator[Sequence[Cell]]:
    """Every violation as it stands."""
    yield VIOLATION_COLUMNS
    for one in debrief.evening.violations:
        yield (*_violation(one), violation_happened(one, debrief.plan))


def _violation(one: ViolationRecord) -> Sequence[Cell]:
    acknowledged = None if one.acknowledged_t_us is None else seconds(one.acknowledged_t_us)
    return (
        one.number,
        seconds(one.t_us),
        utc(one.wall_us),
        one.rule,
        one.at,
        one.spur,
        " ".join(one.missing),
        one.times,
        seconds(one.last_t_us),
        acknowledged,
        one.note,
    )


def seconds(us: int) -> float:
    """Seconds to the microsecond."""
    return us / 1_000_000


def utc(wall_us: int) -> str:
    """A wall time in ISO form, in UTC."""
    moment = datetime.fromtimestamp(wall_us // 1_000_000, UTC)
    return moment.replace(microsecond=wall_us % 1_000_000).isoformat()
