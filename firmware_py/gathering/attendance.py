"""How a box fares, judged from what is heard of it. Pure: the caller reads the clocks."""

from __future__ import annotations

from collections import deque
from dataclasses import dataclass, field
from enum import StrEnum

from firmware_py.club.messages import Health

SILENT_AFTER_S = 3.0
"""Health comes every second; so long without one, and nothing is known."""
STILL_AFTER_S = 6.0
"""An engine beats about every two seconds."""
SAMPLES = 8
TWO_WITHIN_S = 30.0
"""Two boxes of one name cut each other off about once a second; a new Pi that takes an old one's
name comes once, and the old one is not heard again."""
SHARED_FOR_S = 10.0
"""So long after they were last heard by turns."""
MOST_LEFT = 8


class Fares(StrEnum):
    """How a box fares. Only while it is guarding is anything of it shown as proven."""

    GUARDING = "guarding"
    STARTING = "starting"
    STOPPED = "stopped"
    BY_HAND = "by-hand"
    ABSENT = "absent"
    LISTENING = "listening"
    SILENT = "silent"
    GONE = "gone"
    STILL = "still"
    BEHIND = "behind"
    UNREADABLE = "unreadable"
    SHARED = "shared"


_OF_ENGINE = {
    "starting": Fares.STARTING,
    "stopped": Fares.STOPPED,
    "guarding": Fares.GUARDING,
    "by-hand": Fares.BY_HAND,
}


@dataclass(slots=True)
class Turns:
    """Whether two boxes speak by turns under one name.

    Each word is some courier's; one who speaks again after another did was not replaced by it.
    """

    speaker: str | None = None
    left: dict[str, float] = field(default_factory=dict)
    shared_s: float | None = None

    def hear(self, health: Health, now_s: float) -> bool:
        """Take in a live word; whether it is another courier's than the one before."""
        speaker, before = health.run or health.incarnation, self.speaker
        self.speaker = speaker
        if before is None or before == speaker:
            return False
        left_s = self.left.pop(speaker, None)
        if left_s is not None and now_s - left_s <= TWO_WITHIN_S:
            self.shared_s = now_s
        self.left[before] = now_s
        while len(self.left) > MOST_LEFT:
            del self.left[next(iter(self.left))]
        return True

    def shared(self, now_s: float) -> bool:
        """Whether two were heard by turns just now."""
        return self.shared_s is not None and now_s - self.shared_s < SHARED_FOR_S


@dataclass(slots=True)
class Attendance:
    """What was heard of a box. All ``now_s`` are of one monotonic clock."""

    health: Health | None = None
    heard_s: float | None = None
    beat_s: float | None = None
    offsets: deque[int] = field(default_factory=lambda: deque(maxlen=SAMPLES))
    turns: Turns = field(default_factory=Turns)

    def hear(self, health: Health, now_s: float, wall_us: int, *, retained: bool) -> None:
        """Take in one word of health. What the broker had kept proves no life, but may end it."""
        before, self.health = self.health, health
        if not health.here:
            self.heard_s = self.beat_s = None
            self.offsets.clear()
            return
        if retained:
            self.heard_s = None
            return
        another = self.turns.hear(health, now_s)
        if another or before is None or before.incarnation != health.incarnation:
            self.beat_s = None
            self.offsets.clear()
        elif before.here and before.beat != health.beat:
            self.beat_s = now_s
        self.heard_s = now_s
        self.offsets.append(health.wall_us - wall_us)

    def offset_us(self) -> int | None:
        """How far the box's clock is ahead; the sample with the least delay of the last few.

        A message's way only ever makes its clock look further behind.
        """
        return max(self.offsets) if self.offsets else None

    def fares(  # noqa: PLR0911 - one for each word
        self, now_s: float, *, caught_up: bool
    ) -> Fares:
        """The word for how it fares; ``caught_up`` is whether all that it told of is gathered."""
        health = self.health
        if self.turns.shared(now_s):
            return Fares.SHARED
        if health is None or (health.here and self.heard_s is None):
            return Fares.LISTENING
        if not health.here or self.heard_s is None:
            return Fares.GONE
        if now_s - self.heard_s >= SILENT_AFTER_S:
            return Fares.SILENT
        engine = _OF_ENGINE.get(health.engine, Fares.ABSENT)
        if engine is not Fares.GUARDING:
            return engine
        if self.beat_s is None:
            return Fares.LISTENING
        if now_s - self.beat_s >= STILL_AFTER_S:
            return Fares.STILL
        return Fares.GUARDING if caught_up else Fares.BEHIND
