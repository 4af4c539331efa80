"""A crew that does as it is told: what each next step is, as moves of hands (property 3).

A hand takes the key before it opens a padlock, opens the padlock before it moves what that
holds, throws points only when nothing stands on them, and lines back only when nothing is foul.
Where it has to wait for that, the step is not its to do yet. Nor is it where a padlock was closed
on points off normal or on an open gate: that is a violation already, and to open it again counts
as coming off once more (section 6), so it has to be mended before the step, and may say so.
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import Protocol

from firmware_py.core.names import Command, Phase
from firmware_py.core.spur import Spur
from firmware_py.core.stand import Stand
from firmware_py.layout import model
from firmware_py.proof.cells import Infeasible
from firmware_py.proof.moves import reset
from firmware_py.proof.places import Anywhere, Evening
from firmware_py.proof.watch import Watch


class Place(Protocol):
    """Where a crew works."""

    layout: model.Layout

    def made(self, contact: model.Contact | None) -> bool:
        """Whether a contact is fitted and made."""

    def put(self, contact: model.Contact | None, made: bool) -> None:
        """Move what a contact senses, unless it stands so or is not fitted."""

    def order(self, command: Command, spur: str) -> None:
        """Give an order."""


def take_off(place: Place, spur: model.Spur, step: str) -> bool:
    """Take a protection off; ``False`` where the crew has to wait first."""
    match _thing(place, step):
        case model.Switch() as switch:
            return _line(place, switch)
        case model.Gate() as gate:
            _unlock(place, gate.key, gate.hasp)
            place.put(gate.shut, False)
        case model.Derail() as derail:
            place.put(derail.hasp, False)
            place.put(derail.on, False)
        case model.Flag() | model.Chock() as racked:
            place.put(racked.rack, True)
        case _:
            place.order(Command.ASK, spur.id)
            place.order(Command.RELEASE, spur.id)
    return True


def put_back(place: Place, spur: model.Spur, step: str) -> bool:
    """Put a protection back; ``False`` where the crew has to wait first."""
    match _thing(place, step):
        case model.Switch() as switch:
            return _line_back(place, switch, spur)
        case model.Gate() as gate:
            if place.made(gate.hasp) and not place.made(gate.shut):
                return False
            place.put(gate.shut, True)
            place.put(gate.hasp, True)
        case model.Derail() as derail:
            place.put(derail.on, True)
            place.put(derail.hasp, True)
        case model.Flag() | model.Chock() as racked:
            place.put(racked.rack, False)
        case _:
            place.order(Command.HAND_BACK, spur.id)
    return True


def _line(place: Place, switch: model.Switch) -> bool:
    locked_off = place.made(switch.hasp) and not place.made(switch.normal)
    if place.made(switch.detector) or locked_off:
        return False
    _unlock(place, switch.key, switch.hasp)
    place.put(switch.normal, False)
    place.put(switch.reverse, True)
    return True


def _line_back(place: Place, switch: model.Switch, spur: model.Spur) -> bool:
    foul = any(place.made(s.fouling) for s in place.layout.spurs if s.switch == switch.id)
    if place.made(switch.detector) or foul:
        return False
    if place.made(switch.hasp) and (place.made(switch.reverse) or not place.made(switch.normal)):
        return False
    place.put(switch.reverse, False)
    place.put(switch.normal, True)
    place.put(switch.hasp, True)
    return True


def _unlock(place: Place, key: str | None, hasp: model.Contact | None) -> None:
    hook = _thing(place, key or "")
    if isinstance(hook, model.Key) and place.made(hasp):
        place.put(hook.hook, False)
    place.put(hasp, False)


def _thing(place: Place, ident: str) -> model.Thing | None:
    return next((thing for thing in place.layout.things if thing.id == ident), None)


# From every state without a fault: the step that is asked for raises nothing.


def steps_raise_nothing(watch: Watch, stand: Stand) -> Iterator[tuple[Spur, str, str]]:
    """Each next step that raises something by itself: the spur, the step and the rule."""
    models = {spur.id: spur for spur in watch.layout.spurs}
    place = Anywhere(watch)
    for spur in stand.spurs:
        met: list[tuple[Spur, str, str]] = []

        def step(spur: Spur = spur, met: list[tuple[Spur, str, str]] = met) -> None:
            reset(watch, stand.number)
            watch.lately = False  # What was raised before is not raised by this step.
            _without_faults(watch, stand)
            watch.memory.require(watch.testing[spur.id], False)
            what = spur.next_step
            if what is None or what == "work":
                raise Infeasible
            closing = spur.phase is Phase.CLOSING
            act = put_back if closing else take_off
            if act(place, models[spur.id], what):
                met += [(spur, what, str(rule)) for rule, *_ in watch.raised]

        for _ in watch.memory.runs({}, step):
            pass
        yield from dict.fromkeys(met)


def _without_faults(watch: Watch, stand: Stand) -> None:
    memory = watch.memory
    for name, contact in watch.contacts.items():
        if contact.judge is stand:
            memory.restrict(watch.settled[name], lambda value: value is not None)
            memory.require(watch.chattering[name], False)
    memory.restrict(
        watch.of_switch[stand.switch.id]["points"], lambda value: value not in ("disputed",)
    )


# From rest: the whole job, on a core that nobody watches.


def work(evening: Evening, spur: model.Spur, *, leave: bool) -> str | None:
    """Work the spur; the answer is what went wrong, or ``None``."""
    try:
        return _work(evening, spur, leave=leave)
    except (LookupError, StopIteration) as error:
        return f"the core fails: {error!r}"


def _work(evening: Evening, spur: model.Spur, *, leave: bool) -> str | None:
    switch = next(s for s in evening.layout.switches if s.id == spur.switch)
    evening.order(Command.ASK, spur.id)
    worked = False
    for _ in range(4 * len(spur.opening) + 8):
        phase, step = evening.core.phases()[spur.id]
        if evening.violations:
            return f"{evening.violations[0].rule} at {evening.violations[0].at}"
        if phase is Phase.IDLE:
            return _left(evening, spur) if worked else f"the job on {spur.id} ends unworked"
        if step == "work":
            worked = True
            _move_train(evening, switch, spur, leave=leave)
        elif step is not None:
            act = put_back if phase is Phase.CLOSING else take_off
            if not act(evening, spur, step):
                return f"{step} can't be done: the crew waits for a train that is itself"
    return f"the job on {spur.id} never ends"


def _left(evening: Evening, spur: model.Spur) -> str | None:
    safe = evening.core.stages()[spur.switch] == "secured"
    return None if safe else f"{spur.switch} is not secured at the end"


def _move_train(evening: Evening, switch: model.Switch, spur: model.Spur, *, leave: bool) -> None:
    for contact, made in (
        (switch.detector, True),
        (spur.fouling, True),
        (spur.detector, True),
        (spur.detector, leave),
        (spur.fouling, False),
        (switch.detector, False),
    ):
        evening.put(contact, made)
    evening.order(Command.WORK_DONE, spur.id)


def jobs_end_well(layout: model.Layout) -> Iterator[tuple[str, str, list[dict[str, object]]]]:
    """Each spur whose job, done by the book from rest, goes wrong: spur, what, and the tape."""
    for spur in layout.spurs:
        for occupied in (False, True) if spur.detector else (False,):
            for leave in (False, True):
                standing: dict[str, bool | None] = {}
                if spur.detector is not None and occupied:
                    standing[spur.detector.name] = True
                evening = Evening(layout, standing)
                wrong = work(evening, spur, leave=leave)
                if wrong is not None:
                    end: dict[str, object] = {"t": evening.t_us / 1e6, "end": True}
                    yield spur.id, wrong, [*evening.rows, end]
