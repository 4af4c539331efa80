"""The stage that most tests of the engine play on."""

from __future__ import annotations

from collections.abc import Iterator
from importlib.resources import files
from pathlib import Path

import pytest
from engine_stage import Stage
from pytest_mock import MockerFixture
from sqlalchemy import Engine as Database

from firmware_py.logbook.opening import logbook_url, open_engine
from firmware_py.logbook.reading import Reader

BRISK = """
settle = 0.004
clear_after = 0.05
throw = 0.05
restore_within = 0.4
relock_within = 0.2
return_within = 0.2
repeat_within = 0.5
"""
"""The demo's times, as much shorter as its crews are faster."""


@pytest.fixture
def stage(mocker: MockerFixture) -> Stage:
    return Stage(mocker)


@pytest.fixture
def database(tmp_path: Path) -> Iterator[Database]:
    database = open_engine(logbook_url(str(tmp_path / "logbook.sqlite")))
    yield database
    database.dispose()


@pytest.fixture
def reader(database: Database) -> Iterator[Reader]:
    reader = Reader(database)
    yield reader
    reader.close()


@pytest.fixture
def layout_file(tmp_path: Path) -> Path:
    """The demo's layout, as brisk as its crews are in tests."""
    text = (files("firmware_py.demo") / "layouts" / "wendlebeck.toml").read_text("utf-8")
    before, _, rest = text.partition("[times]")
    _, _, after = rest.partition("\n\n")
    path = tmp_path / "wendlebeck.toml"
    text = f"{before}[times]{BRISK}\n{after}".replace("[4, 12]", "[0.02, 0.1]")
    text = text.replace("clock_ratio = 6", "clock_ratio = 1000").replace("420.0", "4.2")
    path.write_text(text, "utf-8")
    return path
