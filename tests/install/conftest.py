"""A throw-away root for each test of this room."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest
from install_machine import Played, Root


@pytest.fixture
def root(tmp_path: Path) -> Root:
    return Root(tmp_path)


@pytest.fixture
def machine(root: Root) -> Iterator[Played]:
    machine = Played(root.folder)
    machine.asked.clear()
    yield machine
    machine.systemctl("stop", "spurlock.target")
