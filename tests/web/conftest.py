"""A filled logbook, and a screen over it."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest
from flask.testing import FlaskClient
from web_filled import Filler
from web_logbook import filler, path
from web_screen import Screen

__all__ = ["client", "filler", "path", "screen"]


@pytest.fixture
def screen(path: Path, filler: Filler) -> Iterator[Screen]:
    screen = Screen(path)
    yield screen
    screen.close()


@pytest.fixture
def client(screen: Screen) -> FlaskClient:
    return screen.client
