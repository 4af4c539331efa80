"""A filled logbook with a screen over it, and the console script, for the rooms that want them."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest
from commands_console import Console
from web_filled import Filler
from web_logbook import filler, path
from web_screen import Screen

__all__ = ["filler", "path", "screen", "spurlock"]


@pytest.fixture
def screen(path: Path, filler: Filler) -> Iterator[Screen]:
    """The screen of Tarn Hollow, which has followed its session."""
    screen = Screen(path)
    screen.look()
    yield screen
    screen.close()


@pytest.fixture
def spurlock(capsys: pytest.CaptureFixture[str]) -> Console:
    """The console script, run in this process."""
    return Console(capsys)
