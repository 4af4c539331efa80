"""The layout as the screen needs it: which row shows what, and what everything is called."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import cast

from firmware_py.layout.model import FOREMAN, Kind, Layout, Protection, Spur, Switch, Thing, kind_of


@dataclass(frozen=True, slots=True)
class Row:
    """A row of the board: a spur with its switch, or a switch that no spur hangs on.

    ``protections`` are the spur's own in its opening order, without the switch and foreman.
    """

    id: str
    switch: Switch
    spur: Spur | None
    protections: tuple[Protection, ...]

    @property
    def name(self) -> str:
        """What the row is headed with."""
        return self.spur.name if self.spur else self.switch.name

    @property
    def things(self) -> tuple[str, ...]:
        """Ids of everything whose trouble belongs on this row."""
        spur = (self.spur.id,) if self.spur else ()
        keys = [self.switch.key, *(getattr(thing, "key", None) for thing in self.protections)]
        held = tuple(dict.fromkeys(key for key in keys if key))
        return (self.switch.id, *spur, *(thing.id for thing in self.protections), *held)


class Plan:
    """An index over one layout; it never changes."""

    def __init__(self, layout: Layout) -> None:
        self.layout = layout
        self.things: dict[str, Thing] = {thing.id: thing for thing in layout.things}
        self.rows: dict[str, Row] = {row.id: row for row in _rows(layout, self.things)}
        self._rows_of: dict[str, tuple[str, ...]] = {}
        for row in self.rows.values():
            for thing in row.things:
                self._rows_of[thing] = (*self._rows_of.get(thing, ()), row.id)
        for trap in layout.traps:  # It belongs where trains run to, then where they come from.
            ends = (row for end in (trap.second, trap.first) for row in self.rows_of(end))
            self._rows_of[trap.id] = tuple(dict.fromkeys(ends))

    def rows_of(self, at: str) -> tuple[str, ...]:
        """Ids of the rows that show a thing or contact, or a trap's ends; empty where none does."""
        return self._rows_of.get(at.partition(".")[0], ())

    def kind(self, thing: str) -> Kind | None:
        """The kind of a thing, or ``None`` for a stranger."""
        known = self.things.get(thing)
        return kind_of(known) if known else None

    def name(self, at: str) -> str:
        """What people call a thing, a contact's place (``name: role``) or the foreman."""
        if at == FOREMAN:
            return "the foreman's release"
        thing, _, role = at.partition(".")
        known = self.things.get(thing)
        name = known.name if known else thing
        return f"{name}: {role}" if role else name


def short_name(name: str, row: str) -> str:
    """A thing's name on a row headed ``row``, without saying again what the heading says.

    >>> short_name("Foundry north flag", "Foundry"), short_name("West flag", "Foundry")
    ('north flag', 'West flag')
    """
    head, rest = name[: len(row) + 1], name[len(row) + 1 :]
    return rest if rest and head.lower() == f"{row.lower()} " else name


def _rows(layout: Layout, things: dict[str, Thing]) -> Iterator[Row]:
    served = {spur.switch for spur in layout.spurs}
    for spur in layout.spurs:
        switch = cast("Switch", things[spur.switch])
        own = (step for step in spur.opening if step not in {FOREMAN, spur.switch})
        named = tuple(cast("Protection", things[step]) for step in own)
        yield Row(spur.id, switch, spur, named)
    for switch in layout.switches:
        if switch.id not in served:
            yield Row(switch.id, switch, None, ())
