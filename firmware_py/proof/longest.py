"""The longest way back: from where everything stands at its worst, played on the core.

How long a thing's own way back is depends on its contacts alone, so each thing's worst is looked
for by itself; the core's own states say that the switch's way leads home from all of them, and
what orders may be left at the end. The sum is a bound; a session in which everything comes to
stand at its worst is then played, and shows that the bound is met (``playing_back.py``).
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import replace
from itertools import product

from firmware_py.core.names import Phase, Points, Stage
from firmware_py.core.spur import Spur
from firmware_py.core.stand import Stand
from firmware_py.layout import model
from firmware_py.proof.cells import Part
from firmware_py.proof.explore import Explored
from firmware_py.proof.moves import reset
from firmware_py.proof.places import Anywhere
from firmware_py.proof.playing_back import played, preludes, stuck_on
from firmware_py.proof.putting_back import Hands
from firmware_py.proof.watch import Watch
from firmware_py.proof.way import WayBack
from firmware_py.proof.worst import Listed, Standing, groups, ranked

Leads = Mapping[tuple[str, bool], Mapping[int, set[int]]]
"""For a contact of a switch's own and what it settles at: the numbers of states it leads to."""

MOST_ORDERS = 2
"""That a spur can need: to hand it back, and to say that its work is done."""
TRIES = 100
"""Sessions that are played until one takes as many moves as any may."""


def longest(explored: Explored, stand: Stand, leads: Leads) -> tuple[int, WayBack | None] | None:
    """The most moves that a way back takes, and that way; ``None`` where it could not be played.

    No answer at all where hands that go by the book do not come back from everywhere.
    """
    watch, layout = explored.watch, explored.watch.layout
    if not _comes_home(watch, stand, leads):
        return None
    at_switch, *others = [ranked(layout, things) for things in groups(layout)]
    most, standing = 0, Standing()
    for ranks in others:
        most += max(ranks)
        standing |= ranks[max(ranks)][0]
    standing |= {key.hook.name: True for key in layout.keys}
    locked = {getattr(thing, "key", None) for thing in (*layout.switches, *layout.gates)}
    most += sum(2 if key.id in locked else 1 for key in layout.keys)
    found = _with_orders(watch, stand, at_switch)
    if found is None:
        return None
    own, stands = found
    for worst, prelude in product(stands[:TRIES], preludes(layout)):
        way = played(layout, standing | worst, prelude)
        if way is not None and len(way.moves) == most + own:
            return most + own, way
    return most + own, None


def tape_of_stuck(explored: Explored) -> tuple[dict[str, object], ...]:
    """A tape on which everything at a switch is put back and work does not end; may be empty."""
    layout = explored.watch.layout
    at_switch = ranked(layout, next(groups(layout)))
    worst = [stands for ranks in at_switch.values() for stands in ranks]
    return stuck_on(layout, [*worst[:TRIES], at_switch[0][0]])


def _with_orders(
    watch: Watch, stand: Stand, at_switch: dict[int, list[Standing]]
) -> tuple[int, list[Standing]] | None:
    """The most moves at a switch with the orders that are left then, and how to stand for it."""
    best: tuple[int, list[Standing]] = (0, [])
    for count, stands in at_switch.items():
        if count + MOST_ORDERS * len(stand.spurs) <= best[0]:
            break
        orders = _orders(watch, stand, stands)
        if orders is None:
            return None
        if count + orders > best[0]:
            best = count + orders, stands
    return best


# What the explored core says of it.


class _Mapped(Listed):
    """A switch in one of its explored states; a contact that settles leads on to another."""

    def __init__(self, watch: Watch, main: Part, leads: Leads, number: int) -> None:
        super().__init__(watch.layout, {})
        self.main, self.leads, self.number = main, leads, number
        self.cells = {name: it for name, it in watch.settled.items() if it.part is main}

    def value(self, contact: model.Contact) -> bool | None:
        """How a contact stands in that state; what is not the switch's own stands at rest."""
        cell = self.cells.get(contact.name)
        if cell is None:
            return super().value(contact)
        value = self.main.states[self.number][cell.index]
        return value if isinstance(value, bool) else None

    def put(self, contact: model.Contact, made: bool) -> None:
        """Settle it, as the core did when it was explored."""
        if contact.name in self.cells:
            [self.number] = self.leads[contact.name, made][self.number]


def _comes_home(watch: Watch, stand: Stand, leads: Leads) -> bool:
    """Whether hands bring the switch home from every state it has."""
    cells = watch.of_switch[stand.switch.id]
    stage, points, main = cells["stage"], cells["points"], cells["stage"].part
    for number in range(len(main.states)):
        place = _Mapped(watch, main, leads, number)
        try:
            Hands(place).switch_back(watch.layout.switches[0])
        except (KeyError, ValueError):  # Two ways, or none: the hands can't know where they are.
            return False
        state = main.states[place.number]
        if state[stage.index] is not Stage.SECURED or state[points.index] is not Points.NORMAL:
            return False
    return True


def _orders(watch: Watch, stand: Stand, stands: list[Standing]) -> int | None:
    """The most orders that are needed from there; ``None`` where they don't end the work."""
    main, total = watch.of_switch[stand.switch.id]["points"].part, 0
    cells = [cell for cell in watch.settled.values() if cell.part is main]
    mine = {tuple(standing[cell.name] for cell in cells) for standing in stands}
    domain = sum(
        1 << number
        for number, state in enumerate(main.states)
        if tuple(state[cell.index] for cell in cells) in mine
    )
    for spur in stand.spurs:
        found = list(_orders_of(watch, stand, spur, {main: domain}))
        if None in found:
            return None
        total += max((orders for orders in found if orders is not None), default=0)
    return total


def _orders_of(
    watch: Watch, stand: Stand, spur: Spur, outset: dict[Part, int]
) -> Iterator[int | None]:
    layout, spurs = watch.layout, stand.spurs
    own = tuple(it for it in layout.spurs if it.id == spur.id)
    stand.spurs = (spur,)
    ends: list[int | None] = []

    def go() -> None:
        reset(watch, stand.number)
        watch.lately = False
        _others_at_rest(watch, stand)
        place = Anywhere(watch)
        place.layout = replace(layout, spurs=own, keys=())
        Hands(place).all_back()
        ends.append(place.orders if place.phase(spur.id) is Phase.IDLE else None)

    for _ in watch.memory.runs(outset, go):
        pass
    stand.spurs = spurs
    yield from ends


def _others_at_rest(watch: Watch, stand: Stand) -> None:
    """Whatever is not the switch's stands at rest, keys off their hooks, and nothing chatters."""
    require = watch.memory.require
    for name, contact in watch.contacts.items():
        thing, _, role = name.rpartition(".")
        if thing != stand.switch.id:
            is_made = role in model.MADE_AT_REST and role != model.Role.HOOK
            require(watch.settled[name], is_made)
        if contact.judge is stand:
            require(watch.chattering[name], False)
    for spur in stand.spurs:
        require(watch.testing[spur.id], False)
