"""``spurlock pin``: setting the host's PIN, from a pipe and at a terminal."""

from __future__ import annotations

import getpass
import io
import sqlite3
import sys
from contextlib import closing
from pathlib import Path

import pytest
from commands_console import Console, Outcome

from firmware_py.logbook.opening import open_engine
from firmware_py.logbook.screen.pin import has_pin, is_pin
from firmware_py.logbook.screen.signins import sign_in, token_of


@pytest.fixture
def logbook(tmp_path: Path) -> Path:
    return tmp_path / "logbook.sqlite"


class Typed(io.StringIO):
    """Standard input that is a terminal."""

    def isatty(self) -> bool:
        return True


def piped(spurlock: Console, monkeypatch: pytest.MonkeyPatch, logbook: Path, text: str) -> Outcome:
    monkeypatch.setattr(sys, "stdin", io.StringIO(text))
    return spurlock("pin", logbook)


def typed(
    spurlock: Console, monkeypatch: pytest.MonkeyPatch, logbook: Path, *answers: str
) -> Outcome:
    left = list(answers)
    monkeypatch.setattr(sys, "stdin", Typed())
    monkeypatch.setattr(getpass, "getpass", lambda _prompt: left.pop(0))
    return spurlock("pin", logbook)


def knows(logbook: Path, pin: str) -> bool:
    database = open_engine(str(logbook))
    try:
        return is_pin(database, pin)
    finally:
        database.dispose()


def has_one(logbook: Path) -> bool:
    database = open_engine(str(logbook))
    try:
        return has_pin(database)
    finally:
        database.dispose()


@pytest.mark.parametrize("end", ["", "\n", "\r\n", "\nsomething else\n"])
def test_a_piped_line_becomes_the_pin(
    spurlock: Console, monkeypatch: pytest.MonkeyPatch, logbook: Path, end: str
) -> None:
    ended = piped(spurlock, monkeypatch, logbook, f"gorse-4171{end}")
    assert (ended.status, ended.err) == (0, "")
    assert "is set" in ended.out
    assert knows(logbook, "gorse-4171")
    assert not knows(logbook, "gorse-4172")


def test_at_a_terminal_it_is_asked_for_twice(
    spurlock: Console, monkeypatch: pytest.MonkeyPatch, logbook: Path
) -> None:
    assert typed(spurlock, monkeypatch, logbook, "gorse-4171", "gorse-4171").status == 0
    assert knows(logbook, "gorse-4171")


def test_two_that_differ_change_nothing(
    spurlock: Console, monkeypatch: pytest.MonkeyPatch, logbook: Path
) -> None:
    piped(spurlock, monkeypatch, logbook, "gorse-4171\n")
    ended = typed(spurlock, monkeypatch, logbook, "heather-9", "heather-8")
    assert ended.status == 2
    assert "differ" in ended.err
    assert "heather" not in ended.err + ended.out
    assert knows(logbook, "gorse-4171")


@pytest.mark.parametrize(
    ("pin", "why"),
    [
        ("", "4 to 64"),
        ("123", "4 to 64"),
        ("x" * 40 + "y" * 25, "4 to 64"),
        ("7777", "one character"),
    ],
)
def test_a_pin_that_will_not_do_is_refused_with_what_would(
    spurlock: Console, monkeypatch: pytest.MonkeyPatch, logbook: Path, pin: str, why: str
) -> None:
    ended = piped(spurlock, monkeypatch, logbook, f"{pin}\n")
    assert ended.status == 2
    assert why in ended.err
    assert not has_one(logbook)


@pytest.mark.parametrize("pin", ["1234", "x" * 32 + "y" * 32, "ginster é ü 😀", "  spaced  "])
def test_the_shortest_the_longest_and_any_letters_do(
    spurlock: Console, monkeypatch: pytest.MonkeyPatch, logbook: Path, pin: str
) -> None:
    assert piped(spurlock, monkeypatch, logbook, f"{pin}\n").status == 0
    assert knows(logbook, pin)


def test_a_new_pin_replaces_the_old_and_signs_every_browser_out(
    spurlock: Console, monkeypatch: pytest.MonkeyPatch, logbook: Path
) -> None:
    piped(spurlock, monkeypatch, logbook, "gorse-4171\n")
    database = open_engine(str(logbook))
    sign_in(database, "a" * 64, "token", 5)
    assert token_of(database, "a" * 64, 0) == "token"
    piped(spurlock, monkeypatch, logbook, "heather-9\n")
    assert token_of(database, "a" * 64, 0) is None
    database.dispose()
    assert knows(logbook, "heather-9")
    assert not knows(logbook, "gorse-4171")


def test_what_is_kept_is_a_salted_scrypt_hash_that_differs_each_time(
    spurlock: Console, monkeypatch: pytest.MonkeyPatch, logbook: Path
) -> None:
    kept = []
    for _ in range(2):
        piped(spurlock, monkeypatch, logbook, "gorse-4171\n")
        with closing(sqlite3.connect(logbook)) as database:
            wanted = "SELECT value FROM setting WHERE name = 'pin'"
            [(value,)] = database.execute(wanted).fetchall()
        kept.append(value)
    assert kept[0] != kept[1]
    assert all(value.startswith("scrypt$16384$8$1$") for value in kept)
    assert not any(b"gorse" in path.read_bytes() for path in logbook.parent.iterdir())


def test_a_folder_that_is_not_there_is_named(
    spurlock: Console, monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    ended = piped(spurlock, monkeypatch, tmp_path / "nowhere" / "logbook.sqlite", "gorse-4171\n")
    assert ended.status == 2
    [line] = ended.err.splitlines()
    assert "nowhere" in line


def test_what_is_no_logbook_is_told_in_one_line(
    spurlock: Console, monkeypatch: pytest.MonkeyPatch, logbook: Path
) -> None:
    logbook.write_text("Once upon a time there was a siding." * 40, "utf-8")
    ended = piped(spurlock, monkeypatch, logbook, "gorse-4171\n")
    assert ended.status == 2
    [line] = ended.err.splitlines()
    assert str(logbook) in line
