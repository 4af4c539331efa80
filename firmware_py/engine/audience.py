"""Who hears the entries; none of them can stop the engine."""

from __future__ import annotations

import logging
from collections.abc import Callable, Sequence

from firmware_py.core.entries import Entry
from firmware_py.engine.ports import Listener

log = logging.getLogger(__name__)


class Audience:
    """Tells each listener of each entry. One that raises is counted, and told of once.

    It goes on being told: what hindered it may pass. ``listeners`` may grow meanwhile.
    """

    def __init__(self, listeners: Sequence[Listener], remark: Callable[[str, int], None]) -> None:
        self._listeners = listeners
        self._remark = remark
        self._blamed: set[Listener] = set()
        self.raised = 0

    def hear(self, entry: Entry) -> None:
        """Tell all of them."""
        for listener in self._listeners:
            try:
                listener(entry)
            except Exception as error:
                self._blame(listener, entry, error)

    def _blame(self, listener: Listener, entry: Entry, error: Exception) -> None:
        self.raised += 1
        if listener in self._blamed:
            return
        self._blamed.add(listener)
        log.exception("a listener raised; the engine goes on")
        name = getattr(listener, "__qualname__", type(listener).__name__)
        why = f"{type(error).__name__}: {error}"
        self._remark(f"{name} failed at an entry, and guarding goes on ({why}).", entry.t_us)
