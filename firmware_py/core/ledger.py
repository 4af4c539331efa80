"""The violations of a session: their numbers, their repeats, and which stand unacknowledged."""

from __future__ import annotations

from array import array

from firmware_py.core.names import Rule

NO_STAND = -1
"""The stand of a violation that belongs to none, such as a trap's."""

_ACKNOWLEDGED = -2

Breach = tuple[Rule, str, tuple[str, ...]]
"""What must agree for a repeat: the rule, the thing, and what was missing."""


class _Last:
    """The newest violation of one kind of breach."""

    __slots__ = ("last_us", "number", "times")

    def __init__(self, number: int, last_us: int) -> None:
        self.number = number
        self.last_us = last_us
        self.times = 1


class Ledger:
    """Numbers violations from 1 and remembers, in four bytes each, where they still stand.

    A bad contact must not flood the screen: the same breach again within ``repeat_within_us``
    of the last time, counted or not, is one more time of the earlier violation while that is
    unacknowledged (section 5). So a breach that was met too late still moves the last time.
    """

    __slots__ = ("_last", "_repeat_within_us", "_stands", "open_at")

    def __init__(self, repeat_within_us: int, stands: int) -> None:
        self._repeat_within_us = repeat_within_us
        self._last: dict[Breach, _Last] = {}
        self._stands = array("l")
        self.open_at = [0] * stands
        """How many violations stand unacknowledged, by stand."""

    def count(self, t_us: int, breach: Breach, stand: int) -> tuple[int, int]:
        """Count a breach at ``t_us``: the violation's number, and its times (1: it is new)."""
        last = self._last.get(breach)
        if last is not None:
            lately = t_us - last.last_us <= self._repeat_within_us
            last.last_us = t_us
            if lately and self._stands[last.number - 1] != _ACKNOWLEDGED:
                last.times += 1
                return last.number, last.times
        self._stands.append(stand)
        if stand != NO_STAND:
            self.open_at[stand] += 1
        number = len(self._stands)
        self._last[breach] = _Last(number, t_us)
        return number, 1

    def acknowledge(self, number: int) -> tuple[int, str | None]:
        """Acknowledge a violation: its stand, or why that makes no sense."""
        if not 1 <= number <= len(self._stands):
            return NO_STAND, f"there is no violation {number}"
        stand = self._stands[number - 1]
        if stand == _ACKNOWLEDGED:
            return NO_STAND, f"violation {number} is acknowledged already"
        self._stands[number - 1] = _ACKNOWLEDGED
        if stand != NO_STAND:
            self.open_at[stand] -= 1
        return stand, None
