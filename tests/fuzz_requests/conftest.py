"""A live engine on simulated pins and a screen over its logbook, for a whole module of tests."""

from __future__ import annotations

import sys
from collections.abc import Iterator
from pathlib import Path

import pytest

sys.path.append(str(Path(__file__).parents[1] / "trouble"))

from fuzz_live import Live


@pytest.fixture(scope="module")
def live(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Live]:
    """They live through every example of the module."""
    with (
        pytest.MonkeyPatch.context() as patch,
        Live(tmp_path_factory.mktemp("live"), patch) as live,
    ):
        yield live
