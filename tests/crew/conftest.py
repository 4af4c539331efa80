"""A crew's link over a logbook that is filled by hand, and the demo in a real Chromium."""

from __future__ import annotations

import sys
from collections.abc import Iterator
from pathlib import Path

import pytest

TESTS = Path(__file__).parents[1]
sys.path += [str(Path(__file__).parent), str(TESTS / "web"), str(TESTS)]

# The folders of these modules had to be named first.
from browser.conftest import browser, chromium, demo  # noqa: E402, F401 - fixtures, used by name
from crew_scene import Scene  # noqa: E402 - as above


@pytest.fixture
def scene(tmp_path: Path) -> Iterator[Scene]:
    """The evening at Tarn Hollow: two jobs, a session that is open, and an engine that guards."""
    scene = Scene(tmp_path / "logbook.sqlite")
    yield scene
    scene.close()
