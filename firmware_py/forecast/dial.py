"""The pace dial: how long paced waits are, as a multiple of what the layout says. Light."""

from __future__ import annotations

from typing import NamedTuple

from firmware_py.forecast.words import LEAST_SCALE, MOST_SCALE

DIAL = "pace-dial"
"""The setting's name."""
BRISK = 0.5
"""Half of the layout's own waits."""


class Position(NamedTuple):
    """A position of the dial and its word."""

    scale: float
    word: str


def positions(clock_ratio: float) -> tuple[Position, ...]:
    """The dial's positions, from the shortest waits to those of a full-size railroad.

    ``clock_ratio`` is the layout's minutes to a real one: at 6:1 a prototype's wait is six times
    the layout's own. Where the clock runs no faster than the real one, that is the last position.

    >>> [f"{at.scale:g} {at.word}" for at in positions(4)]
    ['0.5 brisk', '1 as the layout says', '2 unhurried', '4 prototype']
    """
    found = [Position(BRISK, "brisk"), Position(1.0, "as the layout says")]
    if clock_ratio > 1.0:
        full = min(clock_ratio, MOST_SCALE)
        half = round(full**0.5, 2)
        if 1.0 < half < full:
            found.append(Position(half, "unhurried"))
        found.append(Position(round(full, 3), "prototype"))
    return tuple(found)


def kept_scale(text: str | None, usual: float = 1.0) -> float:
    """The dial as a setting keeps it; ``usual`` where it was never set, or to what is no number.

    >>> kept_scale("2.5"), kept_scale(None), kept_scale("inf"), kept_scale("often", 3.0)
    (2.5, 1.0, 1.0, 3.0)
    """
    try:
        scale = float(text or "")
    except ValueError:
        return usual
    return scale if LEAST_SCALE <= scale <= MOST_SCALE else usual
