"""That the soak's verdict can fail, and that its reckoning is SQLite's own."""

from __future__ import annotations

import sqlite3
from collections.abc import Callable, Sequence

import pytest

from tests.soak.sampling import Sample
from tests.soak.sizes import Size, row_bytes, sizes, varint
from tests.soak.verdict import faults, growths

SIZES = [Size("tape", 100_000, 5_000_000, 5_100_000), Size("entry", 90_000, 9e6, 9_300_000)]
Shape = Callable[[float], float]


def hour(
    *, engine: Shape = lambda _: 54.0, screen: Shape = lambda _: 59.0, late: Shape = lambda _: 0.06
) -> list[Sample]:
    """An hour's looks; each shape tells MiB or seconds by the minute."""
    return [
        Sample(
            at_s,
            round(engine(at_s / 60) * 1024),
            round(screen(at_s / 60) * 1024),
            1_000_000,
            (late(at_s / 60),),
        )
        for at_s in range(10, 3610, 10)
    ]


def test_a_flat_hour_is_flat() -> None:
    assert faults(hour(), SIZES) == []


def test_what_is_filled_in_the_first_ten_minutes_is_no_growth() -> None:
    warm = hour(
        engine=lambda minute: 40 + min(minute, 10), screen=lambda minute: min(60, 9 * minute)
    )
    assert faults(warm, SIZES) == []


@pytest.mark.parametrize(
    ("samples", "word"),
    [
        (hour(engine=lambda minute: 54 + minute * 0.08), "engine grew"),
        (hour(screen=lambda minute: 59 * (1.07 if minute > 50 else 1)), "screen grew"),
        (hour(late=lambda minute: 0.06 + minute * 0.01), "so does a queue"),
        (hour(late=lambda minute: 3.0 if 30 < minute < 31 else 0.06), "the queue stood"),
    ],
)
def test_what_grows_is_found(samples: Sequence[Sample], word: str) -> None:
    assert [fault for fault in faults(samples, SIZES) if word in fault]


def test_a_log_of_another_size_is_found_and_so_is_an_empty_one() -> None:
    assert faults(hour(), [Size("entry", 90_000, 9e6, 11_000_000)])
    assert faults(hour(), [Size("entry", 0, 0.0, 8_192)])


def test_too_short_a_run_is_refused() -> None:
    with pytest.raises(ValueError, match="at least a minute"):
        growths(hour()[:3])


def test_varints_are_those_of_the_file_format() -> None:
    """sqlite.org/fileformat2.html section 1.5: seven bits a byte, nine bytes at most."""
    assert [varint(n) for n in (0, 127, 128, 16_383, 16_384, 2**63)] == [1, 1, 2, 2, 3, 9]


def test_rows_are_as_long_as_sqlite_makes_them() -> None:
    database = sqlite3.connect(":memory:")
    database.execute("CREATE TABLE one (id INTEGER PRIMARY KEY, a, b, c, d)")
    rows = [
        (number, None, number * 1_000_003, "x" * (number % 90), number % 2)
        for number in range(1, 3_000)
    ]
    database.executemany("INSERT INTO one VALUES (?, ?, ?, ?, ?)", rows)
    payload = database.execute(
        "SELECT sum(payload), sum(ncell) FROM dbstat WHERE name = 'one' AND pagetype = 'leaf'"
    ).fetchone()
    ours = sum(row_bytes(row[0], (None, *row[1:])) for row in rows)
    frames = sum(varint(row_bytes(row[0], (None, *row[1:]))) + varint(row[0]) + 2 for row in rows)
    assert payload == (ours - frames, len(rows))


def test_a_logs_size_is_reckoned_within_a_tenth() -> None:
    database = sqlite3.connect(":memory:")
    for table in ("tape", "entry"):
        database.execute(f"CREATE TABLE {table} (id INTEGER PRIMARY KEY, session_id, t_us, text)")
        database.execute(f"CREATE INDEX {table}_of_session ON {table} (session_id, id)")
        for number in range(1, 20_001):
            values = (number, 1, number * 7_000, "line " * (1 + number % 20))
            database.execute(f"INSERT INTO {table} VALUES (?, ?, ?, ?)", values)
    for size in sizes(database):
        assert size.rows == 20_000
        assert size.measured == pytest.approx(size.reckoned, rel=0.1)
