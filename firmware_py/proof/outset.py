"""Where everything may stand as a session begins: the first states of every part.

Contacts may stand in any way, unknown ones included; what a switch makes of its own contacts is
asked of a core that begins so.
"""

from __future__ import annotations

from collections.abc import Hashable, Iterator
from itertools import product

from firmware_py.core.core import Core
from firmware_py.core.names import Stage
from firmware_py.core.spur import Spur
from firmware_py.core.stand import Stand
from firmware_py.proof.cells import Cell, Part
from firmware_py.proof.watch import OWN_CONTACTS, Watch

ANY = (True, False, None)


def begin_all(watch: Watch) -> None:
    """Give every part the states in which a session can begin, and free ones all they have."""
    for stand in watch.stands:
        _begin_stand(watch, stand)
    for part in watch.memory.parts:
        if not part.states:
            for state in product(*(_values(watch, cell) for cell in part.cells)):
                part.add(state)


def guesses(watch: Watch, stand: Stand) -> Iterator[tuple[tuple[str, bool | None], ...]]:
    """Ways for contacts to stand from which a session begins secured though points are not."""
    own = [getattr(stand.switch, role) for role in OWN_CONTACTS]
    names = [contact.name for contact in own if contact is not None]
    normal, reverse = stand.switch.normal.name, stand.switch.reverse.name
    for values in product((False, True, None), repeat=len(names)):
        standing = dict(zip(names, values, strict=True))
        stage = Core(watch.layout, standing).stages()[stand.switch.id]
        lies_normal = standing[normal] is True and standing[reverse] is False
        if stage is Stage.SECURED and not lies_normal:
            yield tuple(standing.items())


def _values(watch: Watch, cell: Cell) -> tuple[Hashable, ...]:
    if cell in watch.settled.values():
        return ANY
    if cell in watch.open.values():
        return (0, 1)
    return (False, True)


def _begin_stand(watch: Watch, stand: Stand) -> None:
    own = [getattr(stand.switch, role) for role in OWN_CONTACTS]
    names = [contact.name for contact in own if contact is not None]
    parts = {watch.of_switch[stand.switch.id]["points"].part}
    parts |= {watch.of_spur[spur.id]["phase"].part for spur in stand.spurs}
    for standing in product(ANY, repeat=len(names)):
        core = Core(watch.layout, dict(zip(names, standing, strict=True)))
        values = read_off(watch, core, stand.number)
        for part in parts:
            part.add(tuple(values[cell] for cell in part.cells))
    for spur in stand.spurs:
        test = watch.testing[spur.id].part
        test.add((False, False))
        test.add((True, True))


def read_off(watch: Watch, core: Core, number: int) -> dict[Cell, Hashable]:
    """What a core that is not watched remembers of a stand, by the cells of a watched one."""
    stand, mine = core._machines.stands[number], watch.stands[number]
    found = dict(_of_switch(watch, stand, mine))
    for spur, watched_spur in zip(stand.spurs, mine.spurs, strict=True):
        found |= dict(_of_spur(watch, spur, watched_spur))
    for name, cell in watch.settled.items():
        found[cell] = core._contacts[name].settled
        found[watch.chattering[name]] = core._contacts[name].chattering
    found[watch.open[number]] = min(stand.open_here(), 1)
    for theirs, ours in zip(stand.timers, mine.timers, strict=True):
        found[watch.pending[ours]] = theirs.due_us is not None
    return found


def _of_switch(watch: Watch, stand: Stand, mine: Stand) -> Iterator[tuple[Cell, Hashable]]:
    for name, cell in watch.of_switch[mine.switch.id].items():
        yield cell, getattr(stand.switch, name)


def _of_spur(watch: Watch, spur: Spur, mine: Spur) -> Iterator[tuple[Cell, Hashable]]:
    for name, cell in watch.of_spur[mine.id].items():
        yield cell, getattr(spur, name)
    yield watch.testing[mine.id], spur.testing
    if spur.foreman is not None:
        yield watch.says[mine.id], spur.foreman.says


def whereabouts(watch: Watch, core: Core, number: int) -> dict[Part, tuple[Hashable, ...]]:
    """The state of each part in which a core that is not watched stands now."""
    found = read_off(watch, core, number)
    parts = {cell.part for cell in found}
    return {
        part: tuple(found[cell] for cell in part.cells)
        for part in parts
        if all(cell in found for cell in part.cells)
    }
