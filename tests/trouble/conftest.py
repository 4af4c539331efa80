"""Makes the fake GPIO chips of the pins' tests importable, and the plant at work a fixture."""

from __future__ import annotations

import sys
from collections.abc import Callable, Iterator
from contextlib import ExitStack
from pathlib import Path

import pytest
from trouble_shift import Shift

sys.path.append(str(Path(__file__).parents[1] / "pins"))


@pytest.fixture
def begin() -> Iterator[Callable[..., Shift]]:
    """Begins a shift on a logbook in a folder; it ends with the test."""
    with ExitStack() as stack:
        yield lambda folder, **more: stack.enter_context(Shift(folder, **more))
