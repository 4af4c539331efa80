"""Where the club's tests keep their files: in memory where that can be, for disks are slow."""

from __future__ import annotations

import os
import shutil
import tempfile
from collections.abc import Iterator
from pathlib import Path

import pytest


@pytest.fixture(scope="module")
def memory(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Path]:
    """A folder of a module's own. No test here is about power cuts."""
    shared = Path("/dev/shm")
    if not os.access(shared, os.W_OK):
        yield tmp_path_factory.mktemp("club")
        return
    made = Path(tempfile.mkdtemp(prefix="spurlock-test-", dir=shared))
    made.chmod(0o755)
    yield made
    shutil.rmtree(made)


@pytest.fixture
def own(memory: Path) -> Path:
    """A folder of a test's own."""
    return Path(tempfile.mkdtemp(dir=memory))
