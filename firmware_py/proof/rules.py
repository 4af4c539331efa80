"""Which rules an event ought to raise (rulebook sections 5 and 6), from the facts alone."""

from __future__ import annotations

from collections.abc import Iterator

from firmware_py.core.names import Rule, Stage
from firmware_py.core.spur import Spur
from firmware_py.core.stand import Stand
from firmware_py.core.switch import CAME_OFF, OCCUPIED, RESTORED, REVERSED, RIGHTED, SHUT
from firmware_py.layout import model
from firmware_py.proof.facts import Facts
from firmware_py.proof.moves import Move
from firmware_py.proof.watch import Report

Breach = tuple[Rule, str]
Breach3 = tuple[Rule, str, tuple[str, ...]]
DEADLINES = {
    "GAPPED": Rule.GAPPED_POINTS,
    "LEFT_LINED": Rule.LEFT_LINED,
    "LEFT_UNLOCKED": Rule.LEFT_UNLOCKED,
}


# Section 5, and what the switch tells its spurs.


def ought_to_raise_at_switch(facts: Facts, move: Move) -> set[object]:
    """The rules of section 5 that a move of a switch's own ought to raise."""
    return set(_at_switch(facts, move))


def _at_switch(facts: Facts, move: Move) -> Iterator[Breach]:
    if move.act == "due":
        ident, kind = move.on.rsplit(" ", 1)
        yield DEADLINES[kind], ident
        return
    ident, role = move.on.split(".")
    if move.value is None or facts.is_quiet(move.on):
        return
    switch = facts.switch(ident)
    if role in ("normal", "reverse") and not move.value:
        if facts.made(switch.hasp):
            yield Rule.MOVED_WHILE_LOCKED, ident
        if facts.made(switch.detector):
            yield Rule.THROWN_UNDER_TRAIN, ident
    if role == "hasp" and move.value and not facts.is_normal(switch):
        yield Rule.LOCKED_OFF_NORMAL, ident
    if role == "hasp" and not move.value and facts.made(_hook(facts, switch.key)):
        yield Rule.KEY_ON_HOOK, ident
    if role == "detector" and move.value and facts.is_between(switch):
        yield Rule.ENTERED_GAPPED_POINTS, ident


def wrong_marks(facts: Facts, stand: Stand, move: Move, report: Report) -> Iterator[str]:
    """What the switch told its spurs of a move that is not so."""
    switch, role = facts.switch(stand.switch.id), move.on.rpartition(".")[2]
    cells = facts.watch.of_switch[switch.id]
    opened = role == "hasp" and move.value is False
    stage = facts.stage(switch.id)
    was = facts.before(lambda: facts.stage(switch.id))
    ran = bool(facts.before(lambda: facts.memory.read(cells["spell_runs"])))
    reversed_now = facts.is_reverse(switch) and not facts.before(lambda: facts.is_reverse(switch))
    normal_now = facts.is_normal(switch) and not facts.before(lambda: facts.is_normal(switch))
    secured_now = stage is Stage.SECURED and was is not Stage.SECURED
    marks = {
        CAME_OFF: reversed_now if switch.hasp is None else opened,
        REVERSED: reversed_now,
        RIGHTED: normal_now,
        OCCUPIED: role == "detector" and move.value is True,
        RESTORED: stage is Stage.RESTORED and was is not Stage.RESTORED,
        SHUT: secured_now and ran,
    }
    for mark, ought in marks.items():
        if bool(report.turn & mark) != ought:
            yield f"{switch.id} reports mark {mark} wrongly"
    yield from _wrong_stage(facts, switch, stage, opened=opened)
    lined = facts.is_reverse(switch) and not facts.made(switch.hasp)
    runs = lined if opened else (ran and not secured_now) or (reversed_now and lined)
    said = bool(facts.memory.read(cells["spell_runs"]))
    if said != runs and not (said and stage in (Stage.LINED, Stage.IN_USE)):
        yield f"a spell of {switch.id} is lost or invented"


def _wrong_stage(
    facts: Facts, switch: model.Switch, stage: object, *, opened: bool
) -> Iterator[str]:
    if switch.hasp is not None and facts.made(switch.hasp):
        right = stage is (Stage.SECURED if facts.is_normal(switch) else Stage.IRREGULAR)
    elif facts.is_normal(switch):
        without = switch.hasp is None
        right = stage in ((Stage.SECURED,) if without else (Stage.UNLOCKED, Stage.RESTORED))
        right = right and not (opened and stage is not Stage.UNLOCKED)
    elif facts.is_reverse(switch):
        right = stage in (Stage.LINED, Stage.IN_USE)
    else:
        right = stage is not Stage.IRREGULAR and (switch.hasp is None or stage is not Stage.SECURED)
    if not right:
        yield f"{switch.id} is {stage} with its contacts as they are"


def _hook(facts: Facts, key: str | None) -> model.Contact | None:
    thing = facts.things.get(key or "")
    return thing.hook if isinstance(thing, model.Key) else None


# Section 6.


def ought_to_raise_at_stand(facts: Facts, stand: Stand, done: Move | Report) -> set[object]:
    """Every rule that an event ought to raise by the time its stand has concluded it."""
    if isinstance(done, Report):
        if done.quiet:
            return set()
        own: set[object] = {(breach[1], breach[2], breach[4]) for breach in done.breaches}
        return own.union(*(_by_switch(facts, spur, done) for spur in stand.spurs))
    return set(_by_move(facts, stand, done))


def _by_switch(facts: Facts, spur: Spur, report: Report) -> Iterator[Breach3]:
    ident, turn = spur.switch.id, report.turn
    fouled = facts.made(_spur(facts, spur).fouling) if turn & (RIGHTED | SHUT) else False
    if turn & CAME_OFF:
        yield from _missing(facts, spur, ident, off=True)
    if turn & SHUT:
        yield from _missing(facts, spur, ident, off=False)
        if fouled:
            yield Rule.LEFT_FOUL, spur.id, ()
    if turn & RIGHTED and fouled:
        yield Rule.LINED_BEHIND_EARLY, spur.id, ()
    if turn & 16:
        if turn & OCCUPIED and facts.is_reverse(facts.switch(ident)):
            yield from _under_flag(facts, spur)
        yield from _in_test(facts, spur)


def _missing(facts: Facts, spur: Spur, step: str, *, off: bool) -> Iterator[Breach3]:
    order = facts.opening(spur) if off else facts.closing(spur)
    is_done = facts.is_off if off else facts.is_back
    left = tuple(s for s in facts.earlier(order, step) if not is_done(spur, s))
    if left:
        yield Rule.OUT_OF_ORDER, spur.id if step == model.FOREMAN else step, left


def _under_flag(facts: Facts, spur: Spur) -> Iterator[Breach3]:
    shown = next((flag for flag in facts.flags(spur) if facts.is_out(flag)), None)
    if shown is not None:
        yield Rule.MOVED_UNDER_FLAG, shown.id, ()


def _in_test(facts: Facts, spur: Spur) -> Iterator[Breach3]:
    if facts.before(lambda: facts.memory.read(facts.watch.testing[spur.id])):
        yield Rule.MOVED_IN_BRAKE_TEST, spur.id, ()


def _by_move(facts: Facts, stand: Stand, move: Move) -> Iterator[Breach3]:
    if move.act == "due":
        if move.on.endswith("RETURN"):
            yield from _unreturned(facts, _named(stand, move.on.rsplit(" ", 1)[0]))
        return
    if move.act in ("release", "hand-back"):
        yield from _by_foreman(facts, _named(stand, move.on), off=move.act == "release")
        return
    if move.value is None or facts.is_quiet(move.on):
        return
    ident, role = move.on.split(".")
    thing = facts.things[ident]
    if isinstance(thing, model.Spur) and role == "detector":
        yield from _on_spur(facts, _named(stand, ident), occupied=move.value)
    elif isinstance(thing, model.Flag | model.Chock):
        yield from _missing(facts, _named(stand, thing.spur), ident, off=move.value)
    elif isinstance(thing, model.Gate):
        yield from _at_gate(facts, _named(stand, thing.spur), thing, role, made=move.value)
    elif isinstance(thing, model.Derail):
        yield from _at_derail(facts, _named(stand, thing.spur), thing, role, made=move.value)


def _by_foreman(facts: Facts, spur: Spur, *, off: bool) -> Iterator[Breach3]:
    if model.FOREMAN not in facts.opening(spur):
        return
    now = facts.is_off(spur, model.FOREMAN)
    before = facts.before(lambda: facts.is_off(spur, model.FOREMAN))
    if now is not before:
        yield from _missing(facts, spur, model.FOREMAN, off=off)


def _on_spur(facts: Facts, spur: Spur, *, occupied: bool) -> Iterator[Breach3]:
    yield from _under_flag(facts, spur)
    if not occupied:
        set_ = next((chock for chock in facts.chocks(spur) if facts.is_out(chock)), None)
        if set_ is not None:
            yield Rule.PULLED_AGAINST_CHOCK, set_.id, ()
    yield from _in_test(facts, spur)


def _at_gate(
    facts: Facts, spur: Spur, gate: model.Gate, role: str, *, made: bool
) -> Iterator[Breach3]:
    if role == "shut":
        if not made and facts.made(gate.hasp):
            yield Rule.GATE_FORCED, gate.id, ()
        if gate.hasp is None:
            yield from _missing(facts, spur, gate.id, off=not made)
    elif role == "hasp" and not made:
        if facts.made(_hook(facts, gate.key)):
            yield Rule.KEY_ON_HOOK, gate.id, ()
        yield from _missing(facts, spur, gate.id, off=True)
    elif role == "hasp" and facts.made(gate.shut):
        yield from _missing(facts, spur, gate.id, off=False)
    elif role == "hasp" and facts.is_open(gate.shut):
        yield Rule.GATE_LOCKED_OPEN, gate.id, ()
    elif role == "detector" and made and facts.made(gate.shut):
        yield Rule.THROUGH_GATE, gate.id, ()


def _at_derail(
    facts: Facts, spur: Spur, derail: model.Derail, role: str, *, made: bool
) -> Iterator[Breach3]:
    if role == "on":
        if not made and facts.made(derail.hasp):
            yield Rule.DERAIL_FORCED, derail.id, ()
        yield from _missing(facts, spur, derail.id, off=not made)
    elif role == "detector" and made and facts.made(derail.on):
        yield Rule.OVER_DERAIL, derail.id, ()


def _unreturned(facts: Facts, spur: Spur) -> Iterator[Breach3]:
    layout, own = facts.watch.layout, _spur(facts, spur)
    for step in facts.closing(spur):
        if isinstance(facts.things.get(step), model.Chock) or facts.is_back(spur, step):
            continue
        yield Rule.NOT_RETURNED, spur.id if step == model.FOREMAN else step, ()
    chocks = facts.chocks(spur)
    steep = own.grade_percent >= layout.chock_from_percent
    there = own.detector is None or facts.made(own.detector)
    if steep and chocks and there and not any(facts.is_out(chock) for chock in chocks):
        yield Rule.LEFT_UNCHOCKED, chocks[0].id, ()


def _spur(facts: Facts, spur: Spur) -> model.Spur:
    thing = facts.things[spur.id]
    assert isinstance(thing, model.Spur), "it is the id of a spur"
    return thing


def _named(stand: Stand, spur: str) -> Spur:
    return next(it for it in stand.spurs if it.id == spur)
