"""How streams wait for news, and where they read from the disk: both are the server's to say."""

from __future__ import annotations

import threading
from collections.abc import Callable
from typing import Protocol, TypeVar

T = TypeVar("T")


class Bell(Protocol):
    """What one stream waits at. ``set`` may come from any thread, the rest from the stream's."""

    def set(self) -> object:
        """Ring."""

    def clear(self) -> object:
        """Be silent again."""

    def wait(self, timeout: float | None = None) -> object:
        """Wait until rung, for so many seconds at most."""


class Waiting(Protocol):
    """A server's way of waiting."""

    def bell(self) -> Bell:
        """A bell for one stream; any thread may ask for it."""

    def aside(self, work: Callable[[], T]) -> T:
        """Do what may wait for a disk where it keeps no other stream waiting."""


class Threads:
    """The way of a server whose streams are threads."""

    def bell(self) -> Bell:
        """An event of the standard library's."""
        return threading.Event()

    def aside(self, work: Callable[[], T]) -> T:
        """Do it here: a thread keeps only itself waiting."""
        return work()
