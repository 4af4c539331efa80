"""Opening a logbook on a disk that is full or can only be read: it is said, and nothing is lost."""

from __future__ import annotations

import shutil
from contextlib import suppress
from datetime import date
from pathlib import Path

import pytest
from trouble_mounts import read_only, small_disk

from firmware_py.logbook.backing_up import back_up
from firmware_py.logbook.damage import damage_of, open_or_begin_anew
from firmware_py.logbook.errors import LogbookError
from firmware_py.logbook.opening import open_engine


def filled_up(disk: Path) -> Path:
    """Take what room there is."""
    ballast = disk / "ballast"
    with suppress(OSError), ballast.open("wb") as stream:
        while True:
            stream.write(bytes(4096))
            stream.flush()
    return ballast


def test_a_new_logbook_on_a_full_disk(tmp_path: Path) -> None:
    with small_disk(tmp_path / "disk", 400) as disk:
        ballast = filled_up(disk)
        with pytest.raises(LogbookError, match=r"free some space|can't be read or written"):
            open_or_begin_anew(str(disk / "logbook.sqlite"))
        ballast.unlink()
        engine, said = open_or_begin_anew(str(disk / "logbook.sqlite"))
        assert said is None
        engine.dispose()


def test_a_disk_that_can_only_be_read(tmp_path: Path) -> None:
    folder = tmp_path / "disk"
    folder.mkdir()
    open_engine(str(folder / "logbook.sqlite")).dispose()
    with read_only(folder):
        for name in ("logbook.sqlite", "new.sqlite"):
            with pytest.raises(LogbookError, match="give this user the right to"):
                open_or_begin_anew(str(folder / name))
    assert damage_of(folder / "logbook.sqlite") is None


def test_a_damaged_logbook_that_can_not_be_renamed(tmp_path: Path) -> None:
    folder = tmp_path / "disk"
    folder.mkdir()
    (folder / "logbook.sqlite").write_bytes(b"\xff" * 9_000)
    with (
        read_only(folder),
        pytest.raises(LogbookError, match=r"it is damaged .* can't be renamed: .*; move it away"),
    ):
        open_or_begin_anew(str(folder / "logbook.sqlite"))
    assert (folder / "logbook.sqlite").read_bytes() == b"\xff" * 9_000


def test_a_backup_for_which_there_is_no_room(tmp_path: Path) -> None:
    with small_disk(tmp_path / "disk", 800) as disk:
        engine = open_engine(str(disk / "logbook.sqlite"))
        ballast = filled_up(disk)
        with pytest.raises(LogbookError, match="no backup could be made"):
            back_up(engine, date(2031, 4, 7))
        assert list((disk / "backups").glob("*")) == []
        ballast.unlink()
        shutil.rmtree(disk / "backups", ignore_errors=True)
        assert back_up(engine, date(2031, 4, 7)).exists()
        engine.dispose()
