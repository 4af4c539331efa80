"""Tells those who watch pins of changes; what they raise is counted and goes no further."""

from __future__ import annotations

import logging

from firmware_py.pins.bank import Change, Line
from firmware_py.pins.trouble import Tally, Trouble

log = logging.getLogger(__name__)


class Teller:
    """For one thread. ``at`` is how troubles name the place."""

    def __init__(self, at: str) -> None:
        self._tally = Tally(at)
        self._blamed: set[Line] = set()

    def tell(self, changes: list[Change]) -> None:
        """Tell of changes, in the order of their times."""
        if len(changes) > 1:
            changes.sort(key=_when)
        for at_ns, line, level in changes:
            try:
                line.hear(at_ns, level)
            except Exception as error:
                self._tally.failed(error)
                # Once for each line: a callback that always fails must not fill the journal.
                if line not in self._blamed:
                    self._blamed.add(line)
                    log.exception("a pin's callback raised; the pins go on without it")

    def troubles(self) -> tuple[Trouble, ...]:
        """Report what went wrong in callbacks."""
        return self._tally.report()


def _when(change: Change) -> int:
    return change[0]
