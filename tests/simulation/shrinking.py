"""Making a failing script small: steps are dropped from it while what is left fails alike."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

from .steps import Script, Step

Fails = Callable[[Script], bool]


def shrunk(script: Script, fails: Fails) -> Script:
    """The script with as few steps as still fail: many are dropped at once first, then each."""
    steps = list(script.steps)
    size = max(len(steps) // 2, 1)
    while size:
        place = 0
        while place < len(steps):
            rest = steps[:place] + steps[place + size :]
            if fails(_with(script, rest)):
                steps = rest
            else:
                place += size
        size //= 2
    return _with(script, steps)


def _with(script: Script, steps: list[Step]) -> Script:
    return replace(script, steps=tuple(steps))
