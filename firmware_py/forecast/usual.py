"""How long steps take where nothing is measured yet: low, likely and high, in seconds.

Those of people who know the work, on a table-top layout; from memory, no source. Measured times
take their place, one by one.
"""

from __future__ import annotations

from firmware_py.forecast.words import ANSWER, START, TRAVEL

Triple = tuple[float, float, float]

_OPENING: dict[str, Triple] = {
    "flag": (4, 8, 25),
    "chock": (4, 8, 25),
    "gate": (8, 15, 50),
    "derail": (6, 12, 40),
    "switch": (12, 25, 80),
    "entry": (5, 15, 60),
    "foreman": (0, 2, 10),
}
_CLOSING: dict[str, Triple] = {
    "flag": (4, 8, 25),
    "chock": (4, 8, 25),
    "gate": (6, 12, 40),
    "derail": (6, 12, 40),
    "switch": (8, 15, 60),
    "foreman": (3, 8, 30),
}
_WORK: Triple = (20, 45, 150)
"""For each car to pull or to spot, and once more for the going about of it."""
_ELSEWHERE: dict[str, Triple] = {
    START: (30, 120, 600),
    TRAVEL: (20, 60, 240),
    ANSWER: (5, 20, 90),
}
_ANYTHING: Triple = (5, 15, 60)


def usual(phase: str, kind: str) -> Triple:
    """The triple of a step, by its phase and the kind of thing; phase is empty elsewhere."""
    match phase:
        case "opening":
            return _OPENING.get(kind, _ANYTHING)
        case "closing":
            return _CLOSING.get(kind, _ANYTHING)
        case "working":
            return _WORK
        case _:
            return _ELSEWHERE[kind]
