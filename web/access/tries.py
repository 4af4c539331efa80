"""How often a wrong PIN may be tried. Pure: it is told the time."""

from __future__ import annotations

from dataclasses import dataclass, field

FREE = 5
"""Wrong tries before one has to wait."""
FIRST_WAIT_S = 5.0
LONGEST_WAIT_S = 300.0
FORGET_AFTER_S = 900.0
MOST_CALLERS = 1_000


@dataclass(slots=True)
class _Caller:
    wrong: int = 0
    last_s: float = 0.0


@dataclass(slots=True)
class Tries:
    """Wrong tries for each address, and over all of them: changing one's address gains little.

    The whole door is ten times as patient as it is with one caller.
    """

    _callers: dict[str, _Caller] = field(default_factory=dict)
    _door: _Caller = field(default_factory=_Caller)

    def wait_s(self, whence: str, now_s: float) -> float:
        """How long this caller has to wait before the next try is looked at; 0 for not at all."""
        mine = self._callers.get(whence)
        return max(_wait(self._door, 10 * FREE, now_s), _wait(mine, FREE, now_s) if mine else 0.0)

    def wrong(self, whence: str, now_s: float) -> None:
        """Note a wrong try."""
        if whence not in self._callers and len(self._callers) >= MOST_CALLERS:
            del self._callers[min(self._callers, key=lambda one: self._callers[one].last_s)]
        for caller in (self._callers.setdefault(whence, _Caller()), self._door):
            if now_s - caller.last_s > FORGET_AFTER_S:
                caller.wrong = 0
            caller.wrong += 1
            caller.last_s = now_s

    def right(self, whence: str) -> None:
        """Note that a caller knew the PIN; the door's own count stands."""
        self._callers.pop(whence, None)


def _wait(caller: _Caller, free: int, now_s: float) -> float:
    since_s = now_s - caller.last_s
    if caller.wrong < free or since_s > FORGET_AFTER_S:
        return 0.0
    wait_s = min(FIRST_WAIT_S * 2.0 ** min(caller.wrong - free, 16), LONGEST_WAIT_S)
    return max(0.0, wait_s - since_s)
