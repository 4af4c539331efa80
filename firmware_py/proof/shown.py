"""What each lamp, bolt and relay ought to show (rulebook section 9), from the facts alone."""

from __future__ import annotations

from collections.abc import Callable

from firmware_py.core.names import Shows, Stage
from firmware_py.core.stand import Fitted, Stand
from firmware_py.layout import model
from firmware_py.proof.facts import Facts


def ought_to_show(facts: Facts, stand: Stand, fitted: Fitted) -> Shows:
    """What an output shows where everything is as the rulebook has it."""
    table: dict[str, Callable[[Facts, Stand, Fitted], Shows]] = {
        "green": _green,
        "red": _red,
        "white": _white,
        "bolt": _bolt,
        "power": _power,
        "buzzer": _buzzer,
        "lamp": _lamp,
    }
    return table[fitted.output](facts, stand, fitted)


def is_safe(facts: Facts, stand: Stand) -> bool:
    """Locked, normal, and no fault at the switch."""
    switch = facts.switch(stand.switch.id)
    sound = facts.is_sound(switch) and not facts.is_disputed(switch)
    return sound and facts.is_locked_normal(switch)


def _green(facts: Facts, stand: Stand, _: Fitted) -> Shows:
    green = not facts.stands_open(stand) and is_safe(facts, stand)
    return Shows.STEADY if green else Shows.OFF


def _red(facts: Facts, stand: Stand, _: Fitted) -> Shows:
    if facts.stands_open(stand):
        return Shows.FLASHING
    return Shows.OFF if is_safe(facts, stand) else Shows.STEADY


def _white(facts: Facts, stand: Stand, _: Fitted) -> Shows:
    if any(facts.next_step(spur) == stand.switch.id for spur in facts.spurs_at(stand)):
        return Shows.FLASHING
    return Shows.STEADY if any(facts.all_off(spur) for spur in facts.spurs_at(stand)) else Shows.OFF


def _lamp(facts: Facts, stand: Stand, fitted: Fitted) -> Shows:
    thing = facts.things[fitted.of]
    spur = next(it for it in facts.spurs_at(stand) if it.id == getattr(thing, "spur", None))
    if facts.next_step(spur) == thing.id:
        return Shows.FLASHING
    displayed = isinstance(thing, model.Flag) and facts.is_out(thing)
    return Shows.STEADY if displayed else Shows.OFF


def _bolt(facts: Facts, stand: Stand, _: Fitted) -> Shows:
    switch = facts.switch(stand.switch.id)
    if not facts.is_sound(switch) or facts.is_disputed(switch):
        return Shows.SHUT
    for spur in facts.spurs_at(stand):
        for step in facts.earlier(facts.opening(spur), switch.id):
            if step != model.FOREMAN and not facts.is_sound(facts.things[step]):
                return Shows.SHUT
    ready = not facts.spurs_at(stand) or any(
        all(facts.is_off(spur, step) for step in facts.earlier(facts.opening(spur), switch.id))
        for spur in facts.spurs_at(stand)
    )
    may = facts.stage(switch.id) is not Stage.SECURED or ready
    return Shows.DRAWN if may else Shows.SHUT


def _power(facts: Facts, stand: Stand, fitted: Fitted) -> Shows:
    switch = facts.switch(stand.switch.id)
    spur = next(it for it in facts.spurs_at(stand) if it.id == fitted.of)
    lined = facts.stage(switch.id) in (Stage.LINED, Stage.IN_USE)
    known = [facts.settled(it) for it in (switch.hasp, switch.normal, switch.reverse) if it]
    on = lined and None not in known and facts.all_off(spur)
    return Shows.ON if on else Shows.OFF


def _buzzer(facts: Facts, stand: Stand, _: Fitted) -> Shows:
    buzz = facts.watch.pending[stand._buzz]
    return Shows.ON if facts.memory.read(buzz) else Shows.OFF
