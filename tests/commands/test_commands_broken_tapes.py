"""Broken tapes through ``spurlock replay``: status 2, one clear line, and first what happened."""

import os
from pathlib import Path

import pytest
from commands_broken_tapes import BROKEN, GOOD, GOOD_LINES, Broken
from commands_console import LAYOUT, Console, Outcome


def assert_one_line(told: Outcome, start: str, says: str = "") -> None:
    """Status 2 and one printable line on standard error that begins with its place."""
    assert told.status == 2
    assert told.err.startswith(start)
    assert told.err.endswith("\n")
    line = told.err[:-1]
    assert line.isprintable()
    assert says in line.removeprefix(start)
    assert len(line) > len(start) + 10, "it must say what is wrong"


def test_there_are_enough_and_each_is_different() -> None:
    assert len({broken.line for broken in BROKEN}) == len(BROKEN) >= 30
    assert len({broken.name for broken in BROKEN}) == len(BROKEN)


@pytest.mark.parametrize("broken", BROKEN, ids=lambda broken: broken.name)
def test_a_broken_second_line(spurlock: Console, tmp_path: Path, broken: Broken) -> None:
    path = tmp_path / "broken.jsonl"
    path.write_bytes(GOOD + broken.line + b"\n" + GOOD)
    told = spurlock("replay", LAYOUT, path)
    assert told.out == GOOD_LINES
    assert_one_line(told, f"{path}:2: ", broken.says)


ALONE = [broken for broken in BROKEN if broken.says != "fall"]
"""Falling is the one mistake that an only line can't make."""


@pytest.mark.parametrize("broken", ALONE, ids=lambda broken: broken.name)
def test_a_broken_only_line(spurlock: Console, tmp_path: Path, broken: Broken) -> None:
    path = tmp_path / "broken.jsonl"
    path.write_bytes(broken.line)
    told = spurlock("replay", LAYOUT, path)
    assert told.out == ""
    assert_one_line(told, f"{path}:1: ", broken.says)


def test_blank_lines_count_as_lines(spurlock: Console, tmp_path: Path) -> None:
    path = tmp_path / "broken.jsonl"
    path.write_bytes(b"\n\r\n" + GOOD + b"\n  \nnonsense\n")
    told = spurlock("replay", LAYOUT, path)
    assert told.out == GOOD_LINES
    assert_one_line(told, f"{path}:6: ")


@pytest.mark.parametrize(
    "line",
    [
        b'{"t": 3, "end": true}',
        b'{"t": 3, "contact": "kiln.detector", "made": true}',
        b'{"t": 3, "command": "hold", "spur": "kiln"}',
        b"nonsense",
    ],
)
def test_a_line_after_the_end(spurlock: Console, tmp_path: Path, line: bytes) -> None:
    path = tmp_path / "broken.jsonl"
    path.write_bytes(GOOD + b'{"t": 2, "end": true}\n\n' + line)
    told = spurlock("replay", LAYOUT, path)
    assert told.out == GOOD_LINES
    assert_one_line(told, f"{path}:4: ")


def test_what_was_due_before_the_broken_line_is_told(spurlock: Console, tmp_path: Path) -> None:
    """The points that gape at 1.02 are told of at 6.02 if a good line comes after that."""
    path = tmp_path / "broken.jsonl"
    path.write_bytes(
        b'{"t": 1, "contact": "kiln-switch.normal", "made": false}\n'
        b'{"t": 7, "contact": "kiln-gate.shut", "made": true}\n'
        b'{"t": 8'
    )
    told = spurlock("replay", LAYOUT, path, "--only", "violation")
    assert [line.split('"rule": ')[1].split(",")[0] for line in told.out.splitlines()] == [
        '"moved-while-locked"',
        '"gapped-points"',
    ]
    assert_one_line(told, f"{path}:3: ")


def test_a_broken_line_that_only_hides_behind_only(spurlock: Console, tmp_path: Path) -> None:
    path = tmp_path / "broken.jsonl"
    path.write_bytes(GOOD + b"nonsense\n")
    told = spurlock("replay", LAYOUT, path, "--only", "violation")
    assert told.out == ""
    assert_one_line(told, f"{path}:2: ")


def test_a_broken_line_at_the_outset(spurlock: Console, tmp_path: Path) -> None:
    """Commands at 0 are ordinary ones: what they brought about is told first."""
    path = tmp_path / "broken.jsonl"
    path.write_bytes(GOOD.replace(b'"t": 1', b'"t": 0') + b'{"t": 0, "contact": 1}\n')
    told = spurlock("replay", LAYOUT, path)
    assert told.out == GOOD_LINES.replace('"t": 1.0', '"t": 0.0')
    assert_one_line(told, f"{path}:2: ")


def test_a_whole_tape_in_utf_16(spurlock: Console, tmp_path: Path) -> None:
    path = tmp_path / "wide.jsonl"
    path.write_bytes(GOOD.decode().encode("utf-16"))
    told = spurlock("replay", LAYOUT, path)
    assert told.out == ""
    assert_one_line(told, f"{path}:1: ")


def test_a_folder_as_tape(spurlock: Console, tmp_path: Path) -> None:
    told = spurlock("replay", LAYOUT, tmp_path)
    assert told.out == ""
    assert_one_line(told, f"{tmp_path}: ")


def test_a_tape_that_is_not_there(spurlock: Console, tmp_path: Path) -> None:
    path = tmp_path / "none.jsonl"
    told = spurlock("replay", LAYOUT, path)
    assert told.out == ""
    assert_one_line(told, f"{path}: ")


def test_a_tape_behind_a_file(spurlock: Console, tmp_path: Path) -> None:
    (tmp_path / "file").touch()
    path = tmp_path / "file" / "tape.jsonl"
    told = spurlock("replay", LAYOUT, path)
    assert_one_line(told, f"{path}: ")


@pytest.mark.skipif(
    not hasattr(os, "geteuid") or os.geteuid() == 0,
    reason="root may read every file, and elsewhere there are no such permissions",
)
def test_a_tape_that_may_not_be_read(spurlock: Console, tmp_path: Path) -> None:
    path = tmp_path / "closed.jsonl"
    path.touch(mode=0o000)
    assert_one_line(spurlock("replay", LAYOUT, path), f"{path}: ")


@pytest.mark.parametrize("name", ["two\nlines.jsonl", "\x1b[31m.jsonl"])
def test_a_tape_with_an_odd_name(spurlock: Console, tmp_path: Path, name: str) -> None:
    """A name that would break the line, or a terminal, is written as escapes."""
    path = tmp_path / name
    for _ in range(2):
        told = spurlock("replay", LAYOUT, path)
        assert told.status == 2
        assert told.err[:-1].isprintable()
        path.write_bytes(b"nonsense\n")
