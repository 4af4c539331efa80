"""A logbook in a folder of its own, and a keeper whose wall clock only counts."""

from __future__ import annotations

import sqlite3
from collections.abc import Callable, Iterator
from contextlib import AbstractContextManager, contextmanager
from itertools import count
from pathlib import Path

import pytest
from sqlalchemy import Engine

from firmware_py.logbook.opening import open_engine
from firmware_py.logbook.reading import Reader
from firmware_py.logbook.writing import Keeper

Begin = Callable[[Keeper], int]
Locked = Callable[[], AbstractContextManager[None]]


@pytest.fixture
def path(tmp_path: Path) -> Path:
    return tmp_path / "logbook.sqlite"


@pytest.fixture
def engine(path: Path) -> Iterator[Engine]:
    """Busy for 20 ms at most, so that a locked database is found out quickly."""
    engine = open_engine(str(path), busy_ms=20)
    yield engine
    engine.dispose()


@pytest.fixture
def keeper(engine: Engine) -> Iterator[Keeper]:
    """Let readings wait for an hour, so that a test sees what makes them be written."""
    wall = count(1_000_000)
    keeper = Keeper(engine, room=100, group_s=3_600, wall_us=lambda: next(wall))
    yield keeper
    keeper.close()


@pytest.fixture
def begin() -> Begin:
    def begin(keeper: Keeper) -> int:
        return keeper.begin_session(
            layout_name="Slate Basin",
            layout_path="basin.toml",
            layout_toml='[layout]\nname = "Slate Basin"\n',
            simulated=True,
            outset={"stages": {"mill-switch": "secured"}},
        )

    return begin


@pytest.fixture
def session(keeper: Keeper, begin: Begin) -> int:
    return begin(keeper)


@pytest.fixture
def reader(engine: Engine) -> Iterator[Reader]:
    reader = Reader(engine)
    yield reader
    reader.close()


@pytest.fixture
def locked(path: Path) -> Locked:
    """Another program that keeps the whole database locked."""

    @contextmanager
    def locked() -> Iterator[None]:
        other = sqlite3.connect(path, isolation_level=None, timeout=30)
        other.execute("BEGIN EXCLUSIVE")
        try:
            yield
        finally:
            other.execute("ROLLBACK")
            other.close()

    return locked
