"""Hands at outputs: a layer between the core and the pins, which the core knows nothing of.

So a session's tape replays to its entries whatever hands have done. A hand lasts a minute, and
a start or stop of the engine, or a turn of the session, ends it. For the engine's thread.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass

from firmware_py.core.by_hand import Believed, called, objection, shows_says
from firmware_py.core.names import Shows
from firmware_py.engine.ports import Diary, Moment, Pins, Work
from firmware_py.layout.model import Layout

LASTS_US = 60_000_000
"""A host whose screen has died can't take his hand off."""

UNSEEN = "the logbook can't be written, so no page could tell of it"

OutputKey = tuple[str, str]
Outputs = Callable[[], Mapping[OutputKey, Shows]]
"""What the core would have every output show."""


@dataclass(frozen=True, slots=True)
class _Hand:
    shows: Shows
    until_us: int


class Hands:
    """The outputs that are worked by hand. ``opened`` is whether the session is for work."""

    def __init__(
        self, layout: Layout, pins: Pins, diary: Diary, outputs: Outputs, *, opened: bool
    ) -> None:
        self._layout = layout
        self._things = {thing.id: thing for thing in layout.things}
        self._pins = pins
        self._diary = diary
        self._outputs = outputs
        self._held: dict[OutputKey, _Hand] = {}
        self.opened = opened
        self.deadline_us: int | None = None

    def __contains__(self, key: OutputKey) -> bool:
        """Whether an output, ``(thing, output)``, is worked by hand."""
        return key in self._held

    def __bool__(self) -> bool:
        """Whether any is."""
        return bool(self._held)

    def take(self, work: Work, believed: Believed, now: Moment) -> str | None:
        """Do what a host asks; why not, where it may not be done."""
        key = work.of, work.output
        if work.shows is None:
            if key not in self._held:
                return "no hand is at this output"
            self._let_go(key, f"taken off by the host at {work.whence}", now)
            return None
        why = self._objection(key, work.shows, believed) if self._diary.writes else UNSEEN
        if why is None:
            self._hold(key, work.shows, work.whence, now)
        return why

    def look(self, believed: Believed, now: Moment) -> None:
        """Take off each hand whose time is up, or that would not be allowed any more."""
        for key, hand in list(self._held.items()):
            if hand.until_us <= now.steady_us:
                self._let_go(key, "its time was up", now)
            elif not self._diary.writes:
                self._let_go(key, UNSEEN, now)
            elif why := self._objection(key, hand.shows, believed):
                self._let_go(key, why, now)

    def end(self, why: str, now: Moment) -> None:
        """Take every hand off."""
        for key in list(self._held):
            self._let_go(key, why, now)

    def _objection(self, key: OutputKey, shows: Shows, believed: Believed) -> str | None:
        thing = self._things[key[0]]
        return objection(self._layout, thing, key[1], shows, believed, opened=self.opened)

    def _hold(self, key: OutputKey, shows: Shows, whence: str, now: Moment) -> None:
        again = self._held.get(key)
        self._held[key] = _Hand(shows, now.steady_us + LASTS_US)
        self._set_deadline()
        self._diary.by_hand(
            ".".join(key),
            shows.value,
            whence=whence,
            since_t_us=now.t_us,
            until_t_us=now.t_us + LASTS_US,
            until_wall_us=now.wall_us + LASTS_US,
        )
        said = "goes on being worked" if again and again.shows is shows else "worked"
        self._diary.remark(
            f"{self._name(key)} {said} by hand from the bench: {shows_says(shows)} for "
            f"{LASTS_US // 1_000_000} s, by the host at {whence}.",
            now.t_us,
        )
        self._pins.show(*key, shows)

    def _let_go(self, key: OutputKey, why: str, now: Moment) -> None:
        del self._held[key]
        self._set_deadline()
        shows = self._outputs()[key]
        self._pins.show(*key, shows)
        self._diary.hand_off(".".join(key))
        said = f"{self._name(key)} is out of hand and {shows_says(shows)} again: {why}."
        self._diary.remark(said, now.t_us)

    def _name(self, key: OutputKey) -> str:
        return called(self._things[key[0]], key[1])

    def _set_deadline(self) -> None:
        self.deadline_us = min((hand.until_us for hand in self._held.values()), default=None)
