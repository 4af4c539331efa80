"""The broker and the database that these tests use: Debian's own, each in a folder of its own."""

from __future__ import annotations

import os
from collections.abc import Iterable
from pathlib import Path
from typing import NoReturn

import pytest

from firmware_py.service.trial.mosquitto import Mosquitto
from firmware_py.service.trial.postgresql import PostgreSQL
from firmware_py.service.trial.programs import TrialError

USERS = ("west", "east", "north", "board", "board-2")


def password_of(user: str) -> str:
    """The password that these tests give a user."""
    return f"{user}-6c1f"


def give_up(reason: str) -> NoReturn:
    """Skip for want of a program of the system; fail where everything is said to be installed."""
    if os.environ.get("CI"):
        pytest.fail(reason)
    pytest.skip(reason)


def broker_in(
    folder: Path,
    users: Iterable[str] = USERS,
    *,
    persistent: bool = False,
    host: str = "127.0.0.1",
) -> Mosquitto:
    """A broker that is not started yet; the test is skipped where there is none."""
    words = {user: password_of(user) for user in users}
    try:
        return Mosquitto(folder, words, persistent=persistent, host=host)
    except TrialError as missing:
        give_up(str(missing))


def database_in(folder: Path) -> PostgreSQL:
    """A PostgreSQL that is not started yet; the test is skipped where there is none."""
    for parent in (folder, *folder.parents):
        if parent.exists() and parent.owner() != "postgres" and os.geteuid() == 0:
            parent.chmod(parent.stat().st_mode | 0o711)  # It runs as a user of its own.
        if parent == Path("/tmp"):
            break
    try:
        return PostgreSQL(folder)
    except TrialError as missing:
        give_up(str(missing))
