"""A filled logbook, and the screen over it in a process of its own."""

from __future__ import annotations

import sys
from collections.abc import Iterator
from pathlib import Path

import pytest

sys.path.append(str(Path(__file__).parents[1] / "web"))

from web_filled import Filler  # The folder of it had to be named first.

from watchers.screen import ScreenProcess


@pytest.fixture
def logbook(tmp_path: Path) -> Path:
    return tmp_path / "logbook.sqlite"


@pytest.fixture
def filler(logbook: Path) -> Iterator[Filler]:
    filler = Filler(str(logbook))
    yield filler
    filler.close()


@pytest.fixture
def screen(logbook: Path, filler: Filler) -> Iterator[ScreenProcess]:
    screen = ScreenProcess(logbook)
    yield screen
    screen.kill()
