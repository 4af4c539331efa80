"""A real Chromium over a board that the test fills as an engine would."""

from __future__ import annotations

import os
import sys
from collections.abc import Iterator
from pathlib import Path

import pytest

sys.path.append(str(Path(__file__).parents[1] / "web"))

from board_filled import Evening

CHROMIUM = Path("/usr/bin/chromium")
ARGUMENTS = ["--no-sandbox", "--disable-gpu", "--disable-dev-shm-usage"]
PATIENCE_MS = 30_000


@pytest.fixture
def path(tmp_path: Path) -> Path:
    return tmp_path / "logbook.sqlite"


@pytest.fixture(scope="module")
def browser() -> Iterator[object]:
    sync_api = pytest.importorskip("playwright.sync_api", reason="Playwright is not installed")
    # Where everything is said to be installed, a missing browser is a failure and no skip.
    if not CHROMIUM.exists() and "CI" not in os.environ:
        pytest.skip(f"there is no {CHROMIUM}")
    with sync_api.sync_playwright() as driver:
        browser = driver.chromium.launch(executable_path=str(CHROMIUM), args=ARGUMENTS)
        sync_api.expect.set_options(timeout=PATIENCE_MS)
        yield browser
        browser.close()


@pytest.fixture
def evening(path: Path) -> Iterator[Evening]:
    """An evening on a layout of eight spurs, with a PIN set and two jobs prepared."""
    evening = Evening(path)
    yield evening
    evening.close()
