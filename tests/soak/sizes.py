"""How large a log should be: reckoned from SQLite's file format, byte by byte.

Source: "Database File Format", sqlite.org/fileformat2.html, sections 1.6 (cells), 2.1 (records)
and 1.5 (varints). A row costs its record, a varint of its length, a varint of its rowid and two
bytes of its page's cell pointer array; an index entry the same without the rowid's varint.
"""

from __future__ import annotations

import sqlite3
from collections.abc import Sequence
from dataclasses import dataclass

PAGE_HEAD = 8
INDEX_FILL = 2 / 3
"""SQLite evens out the last pages of an index whenever one is full, so that one that only grows at
its end is left two thirds full (measured at 22,000 and 122,000 rows; its documents are silent).
"""
_INT_SIZES = ((1, 8), (2, 16), (3, 24), (4, 32), (6, 48), (8, 64))

Value = int | str | float | bytes | None


@dataclass(frozen=True, slots=True)
class Size:
    """A table with its indexes: rows, and bytes as reckoned and as they are in the file."""

    table: str
    rows: int
    reckoned: float
    measured: int


def varint(number: int) -> int:
    """How many bytes a varint of a number that is not negative takes."""
    return min(max(1, -(-number.bit_length() // 7)), 9)


def record(values: Sequence[Value]) -> int:
    """The bytes of a record."""
    types, body = 0, 0
    for value in values:
        code, size = _field(value)
        types += varint(code)
        body += size
    head = types + 1
    if head > 127:
        head += 1
    return head + body


def _field(value: Value) -> tuple[int, int]:
    if value is None:
        return 0, 0
    if isinstance(value, int):
        if value in (0, 1):
            return 8 + value, 0
        bits = (value if value >= 0 else ~value).bit_length() + 1
        size = next(size for size, most in _INT_SIZES if bits <= most)
        return size, size
    if isinstance(value, float):
        return 7, 8
    size = len(value.encode() if isinstance(value, str) else value)
    return 2 * size + 13, size


def row_bytes(rowid: int, values: Sequence[Value]) -> int:
    """What a row costs in a table whose key is the rowid, which the record holds as null."""
    payload = record(values)
    return payload + varint(payload) + varint(rowid) + 2


def index_bytes(values: Sequence[Value]) -> int:
    """What an entry of an index costs."""
    payload = record(values)
    return payload + varint(payload) + 2


def sizes(database: sqlite3.Connection) -> list[Size]:
    """Reckon and measure the two tables that grow with every reading and every entry.

    Both are written in the order of their keys, which fills a table's pages to the last row that
    fits.
    """
    page = int(database.execute("PRAGMA page_size").fetchone()[0])
    return [_size(database, table, page) for table in ("tape", "entry")]


def _size(database: sqlite3.Connection, table: str, page: int) -> Size:
    rows = cells = 0
    of_index = 0
    for row in database.execute(f"SELECT * FROM {table}"):
        rows += 1
        cell = row_bytes(row[0], (None, *row[1:]))
        cells += cell
        of_index += index_bytes((row[1], row[0]))
    average = cells / rows if rows else 0
    # On average half a row does not fit at a page's end.
    reckoned = cells * page / (page - PAGE_HEAD - average / 2) + of_index / INDEX_FILL
    names = (table, f"{table}_of_session")
    measured = database.execute(
        "SELECT coalesce(sum(pgsize), 0) FROM dbstat WHERE name IN (?, ?)", names
    ).fetchone()[0]
    return Size(table, rows, reckoned, int(measured))
