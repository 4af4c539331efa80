"""Troubles of wires and chips as remarks: told when they begin and when they end, with counts."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass
from typing import Protocol

AGAIN_AFTER_US = 60_000_000
"""What comes and goes at one place is told at most so often; counts lose nothing meanwhile."""


class Trouble(Protocol):
    """As the pins report it: ``firmware_py.pins.trouble.Trouble``."""

    @property
    def at(self) -> str:
        """The wire or the chip."""

    @property
    def why(self) -> str:
        """What was said the last time."""

    @property
    def times(self) -> int:
        """How often, since the start."""

    @property
    def standing(self) -> bool:
        """Whether it still fails."""


@dataclass(frozen=True, slots=True)
class _Place:
    """All the troubles of one place together."""

    why: str
    times: int
    standing: bool


@dataclass(slots=True)
class _Told:
    times: int = 0
    standing: bool = False
    quiet_until_us: int = 0


class Reporter:
    """Compares the pins' troubles with what it has told before. For one thread."""

    def __init__(self, remark: Callable[[str], None]) -> None:
        self._remark = remark
        self._told: dict[str, _Told] = {}
        self.standing: tuple[str, ...] = ()

    def look(self, troubles: Iterable[Trouble], now_us: int) -> None:
        """Tell what has begun and what has ended; ``now_us`` is the steady clock's."""
        places = _by_place(troubles)
        for at, place in places.items():
            self._compare(at, place, self._told.setdefault(at, _Told()), now_us)
        self.standing = tuple(
            f"{at}: {place.why}" for at, place in places.items() if place.standing
        )

    def _compare(self, at: str, place: _Place, told: _Told, now_us: int) -> None:
        if told.standing and not place.standing:
            self._remark(f"{at} works again; it failed {_times(place.times)} since the start.")
            told.standing, told.times = False, place.times
        elif place.times > told.times and not told.standing and now_us >= told.quiet_until_us:
            counted = "" if place.times == 1 else f" ({_times(place.times)} since the start)"
            self._remark(f"{at}: {place.why}{counted}.")
            told.standing, told.times = place.standing, place.times
            told.quiet_until_us = now_us + AGAIN_AFTER_US


def _by_place(troubles: Iterable[Trouble]) -> dict[str, _Place]:
    places: dict[str, _Place] = {}
    for one in troubles:
        before = places.get(one.at)
        if before is None:
            places[one.at] = _Place(one.why, one.times, one.standing)
        else:
            why = one.why if one.standing or not before.standing else before.why
            times, standing = before.times + one.times, before.standing or one.standing
            places[one.at] = _Place(why, times, standing)
    return places


def _times(count: int) -> str:
    return "once" if count == 1 else f"{count} times"
