"""How things stand as a session begins: no contact is believed before it has settled."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from queue import Empty, SimpleQueue

from firmware_py.engine.ports import Item, Stop
from firmware_py.layout.model import Contact, Layout

LONGEST_US = 10_000_000
"""A contact that has not settled by then begins as unknown: it chatters, or is lost."""


class Standing:
    """Follows raw levels until each contact has held one for its settle time."""

    def __init__(self, layout: Layout, levels: Mapping[str, bool | None], now_us: int) -> None:
        self._contacts: dict[str, Contact] = {c.name: c for c in layout.contacts}
        self.levels = {name: levels.get(name) for name in self._contacts}
        self._since_us = dict.fromkeys(self._contacts, now_us)

    def change(self, t_us: int, contact: str, made: bool | None) -> None:
        """Take a reading."""
        if self.levels[contact] is not made:
            self.levels[contact] = made
            self._since_us[contact] = t_us

    def settled_at_us(self) -> int:
        """When the last contact will have settled if none moves; one that is lost has."""
        return max((self._settles_us(name) for name in self._contacts), default=0)

    def settled_by(self, now_us: int) -> dict[str, bool | None]:
        """The levels, unknown where a contact has not held its own for long enough."""
        return {
            name: made if self._settles_us(name) <= now_us else None
            for name, made in self.levels.items()
        }

    def _settles_us(self, name: str) -> int:
        contact, made = self._contacts[name], self.levels[name]
        if made is None:
            return self._since_us[name]
        return self._since_us[name] + (contact.settle_us if made else contact.clear_us)


def settle(
    standing: Standing, queue: SimpleQueue[Item], clock_us: Callable[[], int]
) -> tuple[dict[str, bool | None], list[Item]] | None:
    """Wait until all contacts have settled, at most ``LONGEST_US``.

    The answer is how they stand, with what came meanwhile that was no reading; ``None`` if
    the engine was told to stop.
    """
    until_us = clock_us() + LONGEST_US
    others: list[Item] = []
    while (now_us := clock_us()) < min(standing.settled_at_us(), until_us):
        wait_s = (min(standing.settled_at_us(), until_us) - now_us) / 1_000_000
        try:
            item = queue.get(timeout=max(wait_s, 0.0))
        except Empty:
            continue
        if isinstance(item, tuple):
            standing.change(*item)
        elif isinstance(item, Stop):
            return None
        else:
            others.append(item)
    return standing.settled_by(clock_us()), others
