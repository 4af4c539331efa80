"""What a switch stand's lamps show, in words that hold without colour."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from firmware_py.layout.model import Lamps

Shown = Mapping[str, str]
"""What each output of one thing shows, by the output's name."""

DARK = {"colour": "dark", "shows": "off", "word": "Dark", "says": "Treat as red"}
BY_HAND = {"colour": "dark", "shows": "off", "word": "By hand", "says": "Treat as red"}
NO_LAMP = {"colour": "none", "shows": "off", "word": "No lamp", "says": "Read the steps"}


def stand(lamps: Lamps, shown: Shown, *, live: bool, by_hand: bool = False) -> dict[str, Any]:
    """The red or green lamp of a stand; anything unproven or contradictory is not green.

    Keys: ``colour`` (green, red, dark, none), ``shows`` (steady, flashing, off), ``word``
    and ``says``. With ``by_hand`` a host works a lamp there, so that none of them says anything.
    """
    if lamps.green is None and lamps.red is None:
        return NO_LAMP
    if live and by_hand:
        return BY_HAND
    red, green = shown.get("red", "off"), shown.get("green", "off")
    if not live or (red == "off" and green == "off"):
        return DARK
    if red != "off":
        return {"colour": "red", "shows": red, "word": "Red", "says": red}
    return {"colour": "green", "shows": green, "word": "Green", "says": green}


def crew_lamp(lamps: Lamps, shown: Shown, *, live: bool) -> dict[str, Any] | None:
    """The white lamp while it is lit, ``None`` else."""
    white = shown.get("white", "off")
    if lamps.white is None or not live or white == "off":
        return None
    return {"colour": "white", "shows": white, "word": "White", "says": white}
