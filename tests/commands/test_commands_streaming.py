"""A tape is a stream: of any length, and never kept. Memory is measured; no time is."""

import tracemalloc
from collections import Counter
from collections.abc import Iterable, Iterator
from pathlib import Path
from typing import BinaryIO, cast

import pytest
from commands_console import LAYOUT, Console
from commands_streams import MadeAsRead, OneLongLine

from firmware_py.core.entries import Violation
from firmware_py.layout.reading import read_layout
from firmware_py.tape.errors import TapeError
from firmware_py.tape.reading import LONGEST_LINE, TapeReader
from firmware_py.tape.replay import replay

MEGABYTE = 1024 * 1024

LAWFUL: list[tuple[float, str]] = [
    (5, '"command": "ask", "spur": "kiln"'),
    (5, '"command": "release", "spur": "kiln"'),
    (5, '"contact": "kiln-flag.rack", "made": true'),
    (5, '"contact": "kiln-key.hook", "made": false'),
    (5, '"contact": "kiln-switch.hasp", "made": false'),
    (1, '"contact": "kiln-switch.normal", "made": false'),
    (1, '"contact": "kiln-switch.reverse", "made": true'),
    (5, '"contact": "kiln-gate.hasp", "made": false'),
    (5, '"contact": "kiln-gate.shut", "made": false'),
    (5, '"contact": "kiln-chock.rack", "made": true'),
    (5, '"contact": "kiln-switch.detector", "made": true'),
    (20, '"contact": "kiln-switch.detector", "made": false'),
    (5, '"contact": "kiln-chock.rack", "made": false'),
    (5, '"contact": "kiln-gate.shut", "made": true'),
    (5, '"contact": "kiln-gate.hasp", "made": true'),
    (5, '"command": "hand-back", "spur": "kiln"'),
    (5, '"contact": "kiln-flag.rack", "made": false'),
    (1, '"contact": "kiln-switch.reverse", "made": false'),
    (1, '"contact": "kiln-switch.normal", "made": true'),
    (5, '"contact": "kiln-switch.hasp", "made": true'),
    (5, '"contact": "kiln-key.hook", "made": true'),
]
"""One job: seconds since the line before, and the rest of the line."""

CARELESS: list[tuple[float, str]] = [
    (30, '"contact": "kiln-switch.hasp", "made": false'),
    (30, '"contact": "kiln-switch.normal", "made": false'),
    (30, '"contact": "kiln-switch.detector", "made": true'),
    (30, '"contact": "kiln-switch.normal", "made": true'),
    (30, '"contact": "kiln-switch.detector", "made": false'),
    (30, '"contact": "kiln-switch.hasp", "made": true'),
]
"""Violations all night, far enough apart that each is a new one, and none acknowledged."""

BABBLE = [
    (0.01, '"contact": "kiln.detector", "made": true'),
    (0.01, '"contact": "kiln.detector", "made": false'),
]
"""A contact that never settles, fast enough to count as chattering."""


def tape_of(job: list[tuple[float, str]], count: int) -> Iterator[bytes]:
    """``count`` lines of the same job over and over."""
    t = 0.0
    for number in range(count):
        pause, rest = job[number % len(job)]
        t += pause
        yield f'{{"t": {t:.2f}, {rest}}}\n'.encode()


def kinds_and_peak(lines: Iterator[bytes]) -> tuple[Counter[str], int, int]:
    """Play a tape: how many entries of each kind, the peak of memory in bytes, the lines read."""
    layout = read_layout(LAYOUT)
    stream = MadeAsRead(lines)
    tracemalloc.start()
    try:
        before, _ = tracemalloc.get_traced_memory()
        entries: Iterable[object] = replay(
            layout, TapeReader(layout, cast(BinaryIO, stream), "tape")
        )
        kinds = Counter(
            entry.rule.value if isinstance(entry, Violation) else type(entry).__name__
            for entry in entries
        )
        _, peak = tracemalloc.get_traced_memory()
    finally:
        tracemalloc.stop()
    return kinds, peak - before, stream.lines_read


def test_200_000_lines_of_lawful_jobs_take_no_more_memory_than_one() -> None:
    kinds, peak, read = kinds_and_peak(tape_of(LAWFUL, 200_000))
    assert read == 200_000
    assert kinds["StageEntry"] >= 5 * (200_000 // len(LAWFUL))
    assert "out-of-order" not in kinds
    assert "left-unlocked" not in kinds
    assert peak < 3 * MEGABYTE


@pytest.mark.parametrize("job", [CARELESS, BABBLE], ids=["violations", "chatter"])
def test_bad_nights_take_little_memory_too(job: list[tuple[float, str]]) -> None:
    """A violation has to be remembered by its number, but not by much more."""
    kinds, peak, read = kinds_and_peak(tape_of(job, 60_000))
    assert read == 60_000
    if job is CARELESS:
        assert kinds["thrown-under-train"] + kinds["out-of-order"] >= 10_000
    else:
        assert kinds["FaultEntry"] == 1
    assert peak < 3 * MEGABYTE


def test_a_reader_takes_one_line_at_a_time() -> None:
    layout = read_layout(LAYOUT)
    stream = MadeAsRead(tape_of(LAWFUL, 1000))
    lines = iter(TapeReader(layout, cast(BinaryIO, stream), "tape"))
    for expected in range(1, 11):
        next(lines)
        assert stream.lines_read == expected


def test_entries_come_while_the_tape_runs() -> None:
    """The first entry is there long before the tape has been read to its end."""
    layout = read_layout(LAYOUT)
    stream = MadeAsRead(tape_of(LAWFUL, 1000))
    next(iter(replay(layout, TapeReader(layout, cast(BinaryIO, stream), "tape"))))
    assert stream.lines_read <= 3


def test_a_line_of_100_megabytes_is_not_read_whole() -> None:
    layout = read_layout(LAYOUT)
    stream = OneLongLine(100 * MEGABYTE)
    with pytest.raises(TapeError, match=r"^tape:1: .*long") as caught:
        list(replay(layout, TapeReader(layout, cast(BinaryIO, stream), "tape")))
    assert caught.value.line == 1
    assert stream.handed_out <= LONGEST_LINE + 1


def test_a_line_of_100_megabytes_in_a_file(spurlock: Console, tmp_path: Path) -> None:
    path = tmp_path / "enormous.jsonl"
    with path.open("wb") as stream:
        stream.truncate(100 * MEGABYTE)  # Zero bytes that take no room on the disk.
    tracemalloc.start()
    try:
        told = spurlock("replay", LAYOUT, path)
        _, peak = tracemalloc.get_traced_memory()
    finally:
        tracemalloc.stop()
    assert (told.status, told.out) == (2, "")
    assert told.err.startswith(f"{path}:1: ")
    assert len(told.err.splitlines()) == 1
    assert peak < 10 * MEGABYTE
