"""A filled logbook, and a screen over it."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest
from flask.testing import FlaskClient
from web_filled import Filler
from web_screen import Screen


@pytest.fixture
def path(tmp_path: Path) -> Path:
    return tmp_path / "logbook.sqlite"


@pytest.fixture
def filler(path: Path) -> Iterator[Filler]:
    filler = Filler(str(path))
    yield filler
    filler.close()


@pytest.fixture
def screen(path: Path, filler: Filler) -> Iterator[Screen]:
    screen = Screen(path)
    yield screen
    screen.close()


@pytest.fixture
def client(screen: Screen) -> FlaskClient:
    return screen.client
