"""The five stages of a switch as tables (rulebook section 4).

A *spell* is what happened since the hasp was opened: ``FRESH`` (the points have not settled
reverse yet), ``LINED`` (they have, and the section has not been occupied since they last did)
or ``USED`` (it has). ``KEEP`` stands for the last of the four unlocked stages it had.
"""

from __future__ import annotations

from firmware_py.core.names import Points, Stage, Word


class Spell(Word):
    """What happened since the hasp was opened."""

    FRESH = "fresh"
    LINED = "lined"
    USED = "used"


KEEP = None

_N, _R = Points.NORMAL, Points.REVERSE
_B, _D, _U = Points.BETWEEN, Points.DISPUTED, Points.UNKNOWN
_FRESH, _LINED, _USED = Spell.FRESH, Spell.LINED, Spell.USED

LOCKED: dict[Points, Stage] = {
    _N: Stage.SECURED,
    _R: Stage.IRREGULAR,
    _B: Stage.IRREGULAR,
    _D: Stage.IRREGULAR,
    _U: Stage.IRREGULAR,
}

UNLOCKED: dict[tuple[Points, Spell], Stage | None] = {
    (_N, _FRESH): Stage.UNLOCKED,
    (_N, _LINED): Stage.RESTORED,
    (_N, _USED): Stage.RESTORED,
    (_R, _LINED): Stage.LINED,
    (_R, _USED): Stage.IN_USE,
    (_B, _FRESH): KEEP,
    (_B, _LINED): KEEP,
    (_B, _USED): KEEP,
    (_D, _FRESH): KEEP,
    (_D, _LINED): KEEP,
    (_D, _USED): KEEP,
    (_U, _FRESH): KEEP,
    (_U, _LINED): KEEP,
    (_U, _USED): KEEP,
}
"""Reverse and fresh does not occur: points that lie reverse were lined as they settled so."""

WITHOUT_LOCK: dict[tuple[Points, Spell], Stage | None] = UNLOCKED | {
    (_N, _FRESH): Stage.SECURED,
    (_N, _LINED): Stage.SECURED,
    (_N, _USED): Stage.SECURED,
}

_POINTS: dict[tuple[bool | None, bool | None], Points] = {
    (True, False): Points.NORMAL,
    (False, True): Points.REVERSE,
    (False, False): Points.BETWEEN,
    (True, True): Points.DISPUTED,
}

NONE_TO_KEEP = Stage.UNLOCKED
NONE_TO_KEEP_WITHOUT_LOCK = Stage.LINED
"""Never secured on a guess."""


def points_of(normal: bool | None, reverse: bool | None) -> Points:
    """How the points lie, from their two contacts."""
    return _POINTS.get((normal, reverse), Points.UNKNOWN)
