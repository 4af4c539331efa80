"""What an upgrade may spoil, copied before and put back after."""

from __future__ import annotations

import os
import shutil
import sqlite3
from contextlib import closing
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path
from pathlib import PurePosixPath as Place

from firmware_py.install.errors import InstallError
from firmware_py.install.files import File
from firmware_py.install.machine import Machine
from firmware_py.install.places import BACKUPS, Box
from firmware_py.logbook.errors import LogbookError
from firmware_py.logbook.restoring import restore

VERSION = "SELECT version_num FROM alembic_version"


@dataclass(frozen=True, slots=True)
class Saved:
    """The owner's things as they were: where their copies are, and the logbook's version.

    ``logbook`` is ``None`` where there was none yet.
    """

    folder: Path
    logbook: Path | None
    version: str


def save(machine: Machine, box: Box, name: str) -> Saved:
    """Copy layout and logbook into a folder of the backups. Raises ``InstallError``.

    Nobody may be writing the logbook meanwhile: the services are stopped. One that a database
    server keeps is that server's to copy.
    """
    folder = machine.at(BACKUPS) / name
    logbook = None if box.kept is None else machine.at(box.kept)
    try:
        folder.mkdir(parents=True, mode=0o700)
        machine.own(folder)
        if (about := machine.at(box.about)).exists():
            shutil.copy2(about, folder / about.name)
        if logbook is None or not logbook.exists():
            return Saved(folder, None, "")
        copy = folder / logbook.name
        with closing(sqlite3.connect(logbook)) as there, closing(sqlite3.connect(copy)) as here:
            there.backup(here)
            here.execute("PRAGMA journal_mode = DELETE")
            [found] = here.execute("PRAGMA quick_check(1)").fetchone()
        if found != "ok":
            raise InstallError(f"{logbook}: it is damaged ({found}); restore a backup first")
        _settle(machine, logbook)
        for path in folder.iterdir():
            path.chmod(0o600)
            machine.own(path)
        with copy.open("rb") as stream:
            os.fsync(stream.fileno())
    except (OSError, sqlite3.Error) as error:
        raise InstallError(f"{folder}: no backup could be made: {error}") from error
    return Saved(folder, copy, version_of(copy))


def put_back(machine: Machine, box: Box, saved: Saved, now: datetime) -> Path | None:
    """Put the logbook back if a newer release has changed its tables; where the newer one went.

    One that it only wrote in stays: what happened meanwhile is in it. Raises ``InstallError``.
    """
    if saved.logbook is None or box.kept is None:
        return None
    logbook = machine.at(box.kept)
    if logbook.exists() and version_of(logbook) == saved.version:
        return None
    try:
        aside = restore(logbook, saved.logbook, now)
    except LogbookError as error:
        raise InstallError(f"{error}; its copy is {saved.logbook}") from error
    _settle(machine, logbook)
    return aside


def version_of(logbook: Path) -> str:
    """The version of a logbook's tables; empty for one that has none, or can't be read."""
    try:
        with closing(sqlite3.connect(f"{logbook.resolve().as_uri()}?mode=ro", uri=True)) as there:
            row = there.execute(VERSION).fetchone()
    except sqlite3.Error:
        return ""
    return str(row[0]) if row else ""


def texts(machine: Machine, paths: tuple[str, ...]) -> tuple[File, ...]:
    """These files as they are now, those of them that are there."""
    found = []
    for place in map(Place, paths):
        path = machine.at(place)
        if path.exists():
            found.append(File(place, path.read_text("utf-8"), path.stat().st_mode & 0o777))
    return tuple(found)


def _settle(machine: Machine, logbook: Path) -> None:
    """Opening it made files of root's beside it, or of root's it is itself."""
    for path in logbook.parent.glob(f"{logbook.name}*"):
        machine.own(path)
