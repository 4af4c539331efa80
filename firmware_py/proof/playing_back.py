"""A session in which everything comes to stand badly, and the way back from there, as played.

On a core that nobody watches, so that what is told of a way back can happen as it is told.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from itertools import product

from firmware_py.core.names import Command, Phase, Stage
from firmware_py.layout import model
from firmware_py.proof.places import Evening
from firmware_py.proof.putting_back import Hands
from firmware_py.proof.way import WayBack
from firmware_py.proof.worst import Standing

POINTS = {
    (True, False): "lies for the main",
    (False, True): "lies for the spur",
    (False, False): "lies neither way",
    (True, True): "seems to lie both ways at once",
}


def preludes(layout: model.Layout) -> Iterator[Standing]:
    """How a switch may stand as the spur is asked for, before all stands at its worst.

    As it does in the end, or at rest, or lined with a train on it.
    """
    [switch] = layout.switches
    contacts = [it for it in switch.contacts if it.role is not model.Role.BUTTON]
    yield {}
    yield {it.name: it.role in model.MADE_AT_REST for it in contacts}
    lined = (model.Role.REVERSE, model.Role.DETECTOR)
    yield {it.name: it.role in lined for it in contacts}


def played(layout: model.Layout, standing: Standing, prelude: Standing) -> WayBack | None:
    """The way back from ``standing``; ``None`` where it does not lead there on this core."""
    return play(Evening(layout, standing | prelude), standing, prelude)


def stuck_on(layout: model.Layout, stands: Iterable[Standing]) -> tuple[dict[str, object], ...]:
    """The tape of a session that ends with everything put back and is not at rest, if one does."""
    for standing, prelude in product(stands, preludes(layout)):
        evening = Evening(layout, standing | prelude)
        if play(evening, standing, prelude) is None:
            return (*evening.rows, {"t": evening.t_us / 1e6, "end": True})
    return ()


def play(evening: Evening, standing: Standing, prelude: Standing) -> WayBack | None:
    """Let everything come to stand so, and put it back."""
    layout = evening.layout
    try:
        for spur in layout.spurs:
            evening.order(Command.ASK, spur.id)
            if spur.foreman is not model.ForemanKind.NONE:
                evening.order(Command.RELEASE, spur.id)
        for contact in layout.contacts:
            if contact.name in prelude:
                evening.settle(contact, standing[contact.name])
        begins = tuple(_as_it_stands(evening))
        hands = Hands(evening)
        hands.all_back()
    except (LookupError, StopIteration):  # A table of the core's has no answer to this.
        return None
    idle = all(phase is Phase.IDLE for phase, _ in evening.core.phases().values())
    secured = evening.core.stages()[layout.switches[0].id] is Stage.SECURED
    return WayBack(begins, tuple(hands.said)) if idle and secured else None


def _as_it_stands(evening: Evening) -> Iterator[str]:
    """A sentence for each thing that is to be put back, kind by kind."""
    layout, made = evening.layout, evening.made
    for switch in layout.switches:
        locked = " and is locked" if made(switch.hasp) else ""
        train = ", with a train on its points" if made(switch.detector) else ""
        unknown = None in (evening.value(switch.normal), evening.value(switch.reverse))
        lies = POINTS[made(switch.normal), made(switch.reverse)]
        yield f"{switch.name} {'lies nobody knows how' if unknown else lies}{locked}{train}."
    for spur in layout.spurs:
        yield from _of_spur(evening, spur)
    for gate in layout.gates:
        locked = ", its padlock closed" if made(gate.hasp) else ""
        yield f"{gate.name} is {'shut' if made(gate.shut) else 'open'}{locked}."
    for derail in layout.derails:
        locked = ", its padlock closed" if made(derail.hasp) else ""
        yield f"{derail.name} is {'on' if made(derail.on) else 'off'} the rail{locked}."
    racked: tuple[model.Flag | model.Chock, ...] = (*layout.flags, *layout.chocks)
    for thing in racked:
        yield f"{thing.name} is in its rack."
    for key in layout.keys:
        yield f"{key.name} is on its hook."


def _of_spur(evening: Evening, spur: model.Spur) -> Iterator[str]:
    if evening.made(spur.fouling):
        yield f"{spur.name} is occupied between its points and its clearance point."
    released = evening.is_released(spur.id)
    if released:
        yield f"The foreman has released {spur.name}."
    phase = evening.phase(spur.id)
    if phase is Phase.WORKING:
        yield f"{spur.name} is being worked."
    elif phase is Phase.OPENING and not released:
        yield f"{spur.name} has been asked for."
