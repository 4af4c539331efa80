"""The console script as a fixture."""

import pytest
from commands_console import Console


@pytest.fixture
def spurlock(capsys: pytest.CaptureFixture[str]) -> Console:
    """The console script, run in this process."""
    return Console(capsys)
