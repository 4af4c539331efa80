"""A filled logbook, for every room that looks at one."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest
from web_filled import Filler


@pytest.fixture
def path(tmp_path: Path) -> Path:
    return tmp_path / "logbook.sqlite"


@pytest.fixture
def filler(path: Path) -> Iterator[Filler]:
    filler = Filler(str(path))
    yield filler
    filler.close()
