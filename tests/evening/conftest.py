"""The valley for an evening, and the pictures that are taken of it."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest
from browser.conftest import PATIENCE_MS, browser, chromium  # noqa: F401 - fixtures, used by name
from playwright.sync_api import Browser, expect

from evening.shots import Shots
from evening.valley import WENDLEBECK, Valley, valley_of

expect.set_options(timeout=PATIENCE_MS)


@pytest.fixture
def valley(tmp_path: Path, browser: Browser) -> Iterator[Valley]:  # noqa: F811 - the fixture
    with valley_of(WENDLEBECK, tmp_path, browser) as valley:
        yield valley


@pytest.fixture
def shots(tmp_path: Path) -> Shots:
    return Shots(tmp_path / "shots")
