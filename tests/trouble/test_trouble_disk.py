"""Trouble with the logbook's disk and file, each caused for real under a running engine."""

from __future__ import annotations

import sqlite3
import subprocess
import sys
from collections.abc import Callable, Iterator
from contextlib import ExitStack, contextmanager
from functools import partial
from io import RawIOBase
from pathlib import Path

import pytest
from pytest_mock import MockerFixture
from trouble_mounts import read_only, small_disk
from trouble_screen import screen_of
from trouble_shift import Shift, until

from firmware_py.logbook.damage import open_or_begin_anew

Begin = Callable[..., Shift]
HOLDS = """
import sqlite3, sys
database = sqlite3.connect(sys.argv[1], isolation_level=None)
database.execute("BEGIN EXCLUSIVE")
print("held", flush=True)
sys.stdin.read()
"""


@contextmanager
def held(logbook: Path) -> Iterator[None]:
    """Another program keeps the database locked."""
    with subprocess.Popen(
        [sys.executable, "-c", HOLDS, str(logbook)],
        stdin=subprocess.PIPE,
        stdout=subprocess.PIPE,
        text=True,
    ) as other:
        assert other.stdout is not None
        assert other.stdout.readline() == "held\n"
        try:
            yield
        finally:
            other.communicate("")


def fill(ballast: Path) -> None:
    """Write until the disk takes no more."""
    with ballast.open("wb", buffering=0) as file, pytest.raises(OSError, match="No space left"):
        _write_on(file)


def _write_on(file: RawIOBase) -> None:
    while file.write(b"\0" * 1_024):
        pass


@pytest.fixture
def impatient(mocker: MockerFixture) -> None:
    """Half a minute of lock is as much longer than 5 s as these few seconds than 0.2 s."""
    opening = partial(open_or_begin_anew, busy_ms=200)
    mocker.patch("firmware_py.engine.assembly.open_or_begin_anew", opening)


def test_a_full_disk(begin: Begin, tmp_path: Path) -> None:
    with small_disk(tmp_path / "card", 1_000) as card, ExitStack() as stack:
        shift = begin(card)
        screen = stack.enter_context(screen_of(shift))
        shift.trespass()
        assert shift.keeper.flush()
        before = shift.logged()
        ballast = card / "ballast"
        fill(ballast)
        while shift.keeper.health().last_error is None:
            shift.trespass()
        assert "full" in (shift.keeper.health().last_error or "")
        shift.trespass()
        fed = shift.manager.fed
        until(lambda: shift.manager.fed > fed + 3)
        screen.until_unwritten("its disk is full")
        assert shift.logged()[: len(before)] == before
        ballast.unlink()
        shift.until_said("could not be written", "full")
        screen.until_live()
        shift.trespass()
        shift.nothing_lost()
        assert shift.logged()[: len(before)] == before
        shift.__exit__(None, None, None)


@pytest.mark.usefixtures("impatient")
def test_a_disk_that_became_read_only(begin: Begin, tmp_path: Path) -> None:
    folder = tmp_path / "card"
    folder.mkdir()
    shift = begin(folder)
    shift.trespass()
    assert shift.keeper.flush()
    before = shift.logged()
    with screen_of(shift) as screen, ExitStack() as stack:
        # By this mount what is open already stays writable, unlike on a disk that failed: so a
        # lock makes the engine let go of it, and its idle connections are closed.
        with held(shift.logbook):
            until(lambda: "locked" in (shift.keeper.health().last_error or ""))
            stack.enter_context(read_only(folder))
            shift.plant._database.dispose()

        def noticed() -> bool:
            # A connection that was busy just then was not closed with the others.
            shift.plant._database.dispose()
            shift.trespass()
            return "readonly" in (shift.keeper.health().last_error or "")

        until(noticed, shift.keeper.health)
        shift.trespass()
        fed = shift.manager.fed
        until(lambda: shift.manager.fed > fed + 5)
        screen.until_unwritten("give this user the right to write it")
        stack.close()
        screen.until_live()
    shift.until_said("could not be written")
    shift.trespass()
    shift.nothing_lost()
    assert shift.logged()[: len(before)] == before


@pytest.mark.usefixtures("impatient")
def test_a_database_that_another_program_keeps_locked(begin: Begin, tmp_path: Path) -> None:
    shift = begin(tmp_path)
    shift.trespass()
    assert shift.keeper.flush()
    before = shift.logged()
    with screen_of(shift) as screen:
        with held(shift.logbook):
            shift.trespass()
            until(lambda: "locked" in (shift.keeper.health().last_error or ""))
            fed = shift.manager.fed
            until(lambda: shift.manager.fed > fed + 5)
            screen.until_unwritten("another program keeps it locked")
            shift.trespass()
            assert shift.logged() == before, "nothing is shown that is not committed"
        screen.until_live()
    shift.until_said("could not be written", "locked")
    shift.nothing_lost()
    assert len(shift.violations()) == 3


def test_a_database_whose_pages_are_overwritten(begin: Begin, tmp_path: Path) -> None:
    shift = begin(tmp_path)
    shift.trespass()
    assert shift.keeper.flush()
    kept = shift.violations()
    assert kept == ["out-of-order"]
    with sqlite3.connect(shift.logbook) as other:
        other.execute("PRAGMA wal_checkpoint(TRUNCATE)")
    other.close()
    size = shift.logbook.stat().st_size
    with shift.logbook.open("r+b") as file:
        file.seek(4_096)
        file.write(b"\xa5" * (size - 4_096))

    def set_aside() -> list[Path]:
        shift.trespass()
        return list(tmp_path.glob("gravel-damaged-*.sqlite"))

    until(set_aside)
    assert set_aside()[0].stat().st_size >= size, "it is kept, not overwritten"
    shift.until_said("damaged", "kept as")
    shift.trespass()
    assert shift.keeper.flush()
    assert shift.violations()[: len(kept)] == kept, "the session goes on with its violations"
    board = shift.board_shows()
    assert board["head"]["trouble"] == ""


def test_a_database_that_is_deleted(begin: Begin, tmp_path: Path) -> None:
    shift = begin(tmp_path)
    shift.trespass()
    assert shift.keeper.flush()
    before = shift.logged()
    for ending in ("", "-wal", "-shm"):
        Path(f"{shift.logbook}{ending}").unlink()
    shift.trespass()
    until(shift.logbook.exists)
    shift.until_said("deleted")
    shift.trespass()
    shift.nothing_lost()
    assert shift.logged()[: len(before)] == before
    assert len(shift.violations()) == 3
