"""These tests need lines that a test can pull: they run inside the test machine only."""

from __future__ import annotations

import os
from collections.abc import Iterator

import pytest

collect_ignore_glob = [] if os.environ.get("SPURLOCK_INSIDE") else ["test_*.py"]

if os.environ.get("SPURLOCK_INSIDE"):
    from kernel.inside.sim import HEADER_LABEL, SimChip

    @pytest.fixture
    def header() -> Iterator[SimChip]:
        """A chip that is taken for the header of a Pi: lines 0 to 27."""
        with SimChip("header", 28, HEADER_LABEL) as chip:
            yield chip

    @pytest.fixture
    def box() -> Iterator[SimChip]:
        """A second chip, 28 lines, named ``box`` in layouts."""
        with SimChip("box", 28, "box") as chip:
            yield chip
