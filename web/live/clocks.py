"""The layout's own time of day: session time, run at the layout's ratio from a starting hour."""

from __future__ import annotations

import re

SETTING = "layout-clock-start"
"""The setting's name; its text is a time of day such as ``8:00 am`` or ``20:15``."""
DEFAULT_START = "8:00 am"

_HOUR_US = 3_600_000_000
_MINUTE_US = 60_000_000
_TIME = re.compile(r"\s*(\d{1,2})(?:[:.](\d{2}))?\s*(am|pm)?\s*", re.ASCII | re.IGNORECASE)


def time_of_day_us(text: str) -> int | None:
    """A time of day as microseconds since midnight; ``None`` where the text is none.

    >>> time_of_day_us("8:00 am"), time_of_day_us("20:15"), time_of_day_us("25:00")
    (28800000000, 72900000000, None)
    """
    found = _TIME.fullmatch(text)
    if found is None:
        return None
    hour, minute, half = int(found[1]), int(found[2] or 0), (found[3] or "").lower()
    if minute > 59 or hour > 23 or (half and not 1 <= hour <= 12):
        return None
    if half:
        hour = hour % 12 + (12 if half == "pm" else 0)
    return hour * _HOUR_US + minute * _MINUTE_US


def starts_us(setting: str | None) -> int:
    """Where the layout's clock stands as a session begins; what is no time is passed over."""
    begun = time_of_day_us(setting) if setting is not None else None
    default = time_of_day_us(DEFAULT_START)
    assert default is not None, "the default is a time of day"
    return default if begun is None else begun
