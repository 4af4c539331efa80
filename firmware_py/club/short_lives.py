"""Whether a broker ends a connection again and again soon after it began. Pure.

That is what two clients of one name look like to each of them where the broker does not say so:
Mosquitto 2.0.11 only hangs up (seen).
"""

from __future__ import annotations

from collections import deque
from dataclasses import dataclass, field

SHORT_S, SHORT_LIVES, SHORT_WITHIN_S = 2.5, 3, 30.0
"""No network is given up as fast as ``SHORT_S`` (see ``link.UNACKNOWLEDGED_MS``): so it was the
broker. Once or twice may be its restart."""


@dataclass(slots=True)
class ShortLives:
    """The last few ends that came soon. All ``now_s`` are of one monotonic clock."""

    _began_s: float = 0.0
    _ended_s: deque[float] = field(default_factory=lambda: deque(maxlen=SHORT_LIVES))

    def began(self, now_s: float) -> None:
        """A connection has begun."""
        self._began_s = now_s

    def ended(self, now_s: float) -> bool:
        """It has ended, and nobody here wanted that; whether that has come to be a habit."""
        if now_s - self._began_s >= SHORT_S:
            return False
        self._ended_s.append(now_s)
        first_s = self._ended_s[0]
        return len(self._ended_s) == SHORT_LIVES and now_s - first_s <= SHORT_WITHIN_S
