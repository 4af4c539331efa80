"""A few places for what takes long, so that it never takes every thread that answers requests."""

from __future__ import annotations

import threading
from collections.abc import Iterator
from contextlib import contextmanager

from web.asks import AskError

PATIENCE_S = 5.0
"""How long one waits for a place."""


class Places:
    """So many may be at it at once. Safe between threads."""

    def __init__(self, most: int) -> None:
        self._free = threading.BoundedSemaphore(most)

    @contextmanager
    def taken(self, what: str) -> Iterator[None]:
        """Hold a place. Raises ``AskError`` 503 where none comes free: ``what`` says of what."""
        if not self._free.acquire(timeout=PATIENCE_S):
            raise AskError(
                503, f"too many ask for {what} at once; try again in a moment", retry_after_s=5
            )
        try:
            yield
        finally:
            self._free.release()
