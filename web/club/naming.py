"""A box's layout, lines and records in the names and the time of its board. Pure.

Ids become those that ``firmware_py/gathering/names.py`` gives them, names begin with the box's,
and times count from the beginning of the board's own session, by the board's clock.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import Any

import msgspec

from firmware_py.gathering.layouts import layout_on_board
from firmware_py.gathering.names import number_on_board, on_board
from firmware_py.layout.model import FOREMAN, Layout
from firmware_py.logbook.records import StandingRecord, ViolationRecord
from web.live.board import Line

WORK = "work"
_NOT_THINGS = frozenset({FOREMAN, WORK})


@dataclass(frozen=True, slots=True)
class Naming:
    """How one box's session is told: ``shift_us`` is added to its session time."""

    node: str
    node_id: int
    shift_us: int
    offset_us: int = 0

    def ident(self, own: str) -> str:
        """An id or a contact's name; the foreman and the work have none of their own."""
        return own if own in _NOT_THINGS else on_board(self.node, own)

    def maybe(self, own: str | None) -> str | None:
        """The same for what may be missing."""
        return None if own is None else self.ident(own)

    def time(self, t_us: int) -> int:
        """A time of the box's session in the board's."""
        return t_us + self.shift_us

    def layout(self, layout: Layout) -> Layout:
        """The layout in the board's names."""
        return layout_on_board(self.node, layout)

    def outset(self, outset: Mapping[str, Any]) -> dict[str, Any]:
        """A session's outset; how it stood then is told as of the session's beginning."""
        return {
            "stages": self._keys(outset.get("stages", {}), lambda stage: stage),
            "phases": self._keys(
                outset.get("phases", {}), lambda one: [one[0], self.maybe(one[1])]
            ),
            "foremen": self._keys(outset.get("foremen", {}), lambda word: word),
            "outputs": self._keys(outset.get("outputs", {}), dict),
            "faults": [[fault, self.ident(at)] for fault, at in outset.get("faults", [])],
        }

    def line(self, line: Line) -> dict[str, Any]:
        """A log's line."""
        told = dict(line)
        told["t"] = line["t"] + self.shift_us / 1_000_000
        for key in ("switch", "spur", "of", "at", "next"):
            if isinstance(told.get(key), str):
                told[key] = self.ident(told[key])
        if "missing" in told:
            told["missing"] = [self.ident(one) for one in told["missing"]]
        for key in ("number", "violation"):
            if isinstance(told.get(key), int):
                told[key] = number_on_board(self.node_id, told[key])
        return told

    def violation(self, one: ViolationRecord) -> ViolationRecord:
        """A violation as it stands."""
        acknowledged = one.acknowledged_t_us
        return msgspec.structs.replace(
            one,
            number=number_on_board(self.node_id, one.number),
            t_us=self.time(one.t_us),
            wall_us=one.wall_us - self.offset_us,
            at=self.ident(one.at),
            spur=self.maybe(one.spur),
            missing=tuple(self.ident(step) for step in one.missing),
            last_t_us=self.time(one.last_t_us),
            acknowledged_t_us=None if acknowledged is None else self.time(acknowledged),
        )

    def standing(self, one: StandingRecord) -> StandingRecord:
        """How a contact stands; the database has its board's name already."""
        return msgspec.structs.replace(one, wall_us=one.wall_us - self.offset_us)

    def _keys(self, given: Mapping[str, Any], told: Callable[[Any], Any]) -> dict[str, Any]:
        return {self.ident(key): told(value) for key, value in given.items()}
