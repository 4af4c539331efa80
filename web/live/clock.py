"""The session's clock as the screen can know it: from entries, then on by its own clock."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(slots=True)
class SessionClock:
    """Anchored at a moment that is known in both times; runs on by the monotonic one."""

    anchor_us: int
    anchor_s: float

    @classmethod
    def guess(cls, t_us: int, wall_us: int, now_wall_us: int, now_s: float) -> SessionClock:
        """Begin from something logged in the past, trusting the wall clock until better is known.

        A wall clock that stepped back since then counts as no time at all.
        """
        return cls(t_us + max(0, now_wall_us - wall_us), now_s)

    def heard(self, t_us: int, now_s: float) -> None:
        """An entry of this instant was just read: that is what time it is."""
        self.anchor_us, self.anchor_s = t_us, now_s

    def read(self, now_s: float) -> int:
        """Session time in microseconds at monotonic ``now_s``."""
        return self.anchor_us + round((now_s - self.anchor_s) * 1_000_000)
