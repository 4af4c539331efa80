"""A logbook that evenings are played into, and a screen over it whose follower looks when told."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest

from debrief.debrief_screen import Screen


@pytest.fixture
def url(tmp_path: Path) -> str:
    return str(tmp_path / "logbook.sqlite")


@pytest.fixture
def screen(url: str) -> Iterator[Screen]:
    screen = Screen(url)
    yield screen
    screen.close()
