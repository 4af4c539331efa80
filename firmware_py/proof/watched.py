"""The shipped core with its memory laid open: the same methods, reading and writing cells.

Each machine keeps its class's code. Only where an attribute remembers something from one event
to the next does a property stand in its place, so that what is remembered lies in ``Memory``.
"""

from __future__ import annotations

from collections.abc import Callable, Hashable
from functools import partial
from typing import Any

from firmware_py.core.agenda import Timer
from firmware_py.core.contacts import Contact
from firmware_py.core.core import Core
from firmware_py.core.protections import Protection, SwitchProtection
from firmware_py.core.spur import Spur
from firmware_py.core.stand import Stand
from firmware_py.core.switch import Switch
from firmware_py.layout.model import Layout
from firmware_py.proof.cells import Cell, Infeasible, Test
from firmware_py.proof.counted import fault_property, watch_ledger
from firmware_py.proof.memory import Memory
from firmware_py.proof.watch import NOW_US, OWN_CONTACTS, Report, Watch, swap

SWITCH_CELLS = (
    "points", "stage", "spell", "spell_runs", "_kept", "_said_lined", "_said_unlocked",
)  # fmt: skip
SPUR_CELLS = ("phase", "_had_off")


def watched(layout: Layout) -> Watch:
    """A core of ``layout`` (without traps) with all that it remembers in cells."""
    watch = Watch(layout, Core(layout), Memory())
    for stand in watch.stands:
        _lay_out(watch, stand)
    for name, contact in watch.contacts.items():
        _watch_contact(watch, name, contact)
    for stand in watch.stands:
        _watch_stand(watch, stand)
    watch_ledger(watch)
    return watch


def _cell_property(memory: Memory, cell: Cell) -> property:
    def get(_: object) -> Hashable:
        return memory.read(cell)

    def set_to(_: object, value: Hashable) -> None:
        memory.write(cell, value)

    return property(get, set_to)


# Which cells lie together.


def _lay_out(watch: Watch, stand: Stand) -> None:
    memory, switch = watch.memory, stand.switch
    main = memory.part(switch.id)
    for role in OWN_CONTACTS:
        contact = getattr(switch, role)
        if contact is not None:
            watch.settled[contact.name] = Cell(main, contact.name)
    watch.of_switch[switch.id] = {name: Cell(main, name) for name in SWITCH_CELLS}
    for timer in switch.timers:
        watch.pending[timer] = Cell(main, str(timer.name[0].name))
    for spur in stand.spurs:
        part = memory.part(spur.id)
        watch.of_spur[spur.id] = {name: Cell(part, f"{spur.id} {name}") for name in SPUR_CELLS}
        if spur.foreman is not None:
            watch.says[spur.id] = Cell(part, f"{spur.id} foreman")
        watch.pending[spur._return] = Cell(part, f"{spur.id} return")
        test = memory.part(f"{spur.id} brake test")
        watch.testing[spur.id] = Cell(test, "testing")
        watch.pending[spur._test] = Cell(test, "pending")
        for item in spur.opening:
            _lay_out_protection(watch, item)
    watch.open[stand.number] = Cell(memory.part(f"{switch.id} violations"), "open")
    watch.pending[stand._buzz] = Cell(memory.part(f"{switch.id} buzzer"), "pending")


def _lay_out_protection(watch: Watch, item: Protection) -> None:
    mine = [name for name, contact in watch.contacts.items() if contact.home is item]
    if mine:
        part = watch.memory.part(item.step)
        watch.settled |= {name: Cell(part, name) for name in mine}


# Contacts, switches, spurs, protections, outputs, the ledger.


def _watch_contact(watch: Watch, name: str, contact: Contact) -> None:
    memory = watch.memory
    if name not in watch.settled:
        watch.settled[name] = Cell(memory.part(name), name)
    watch.chattering[name] = Cell(memory.part(f"{name} chattering"), "chattering")
    swap(
        contact,
        {
            "settled": _cell_property(memory, watch.settled[name]),
            "chattering": _cell_property(memory, watch.chattering[name]),
        },
    )


def _watch_stand(watch: Watch, stand: Stand) -> None:
    memory, switch = watch.memory, stand.switch
    cells = watch.of_switch[switch.id]
    names: dict[str, Any] = {name: _cell_property(memory, cells[name]) for name in SWITCH_CELLS}
    stir = type(switch).stir

    def stirred(it: Switch) -> None:
        if not watch.apart:
            stir(it)

    swap(switch, names | {"faults": fault_property(watch, switch), "stir": stirred})
    swap(stand, {"conclude": _concluder(watch, type(stand).conclude)})
    for timer in stand.timers:
        _watch_timer(watch, timer)
    for spur in stand.spurs:
        _watch_spur(watch, spur)
    for fitted in stand.fitted:
        swap(fitted, {"shows": _derived(watch, lambda it: it.look())})


def _concluder(watch: Watch, conclude: Callable[..., None]) -> Any:  # noqa: ANN401 - a method
    def concluded(stand: Stand, *, anew: bool) -> None:
        if watch.reports is None:
            conclude(stand, anew=anew)
            return
        event = watch.core._event
        report = Report(stand.number, stand.switch.turn, event.quiet, anew, tuple(event.breaches))
        watch.reports.append(report)
        event.breaches = []
        stand.switch.turn = 0

    return concluded


def _watch_spur(watch: Watch, spur: Spur) -> None:
    memory = watch.memory
    names: dict[str, Any] = {
        name: _cell_property(memory, cell) for name, cell in watch.of_spur[spur.id].items()
    }
    names["testing"] = _cell_property(memory, watch.testing[spur.id])
    names["next_step"] = _derived(watch, lambda it: it._step_in(it.phase))
    conclude = type(spur).conclude

    def concluded(it: Spur, turn: int) -> None:
        watch.vague = True  # It only asks whether phase or step changed, and then sets both.
        try:
            conclude(it, turn)
        finally:
            watch.vague = False
        watch.concluded[it] = len(memory.log)

    swap(spur, names | {"conclude": concluded})
    for item in spur.opening:
        _watch_protection(watch, spur, item)


def _watch_protection(watch: Watch, spur: Spur, item: Protection) -> None:
    memory, names = watch.memory, {}
    if item is spur.foreman:
        names["says"] = _cell_property(memory, watch.says[spur.id])
        part = watch.says[spur.id].part
    elif isinstance(item, SwitchProtection):
        part = watch.of_switch[item.step]["points"].part
    else:
        names["faults"] = fault_property(watch, item)
        part = next(p for p in memory.parts if p.name == item.step)
    own: Any = type(item)
    for question in ("is_off", "is_back", "is_out"):
        method = getattr(own, question, None)
        if method is not None and not (question == "is_back" and hasattr(item, "_detector")):
            test = Test(part, partial(method, item))
            names[question] = _asker(memory, test)
    swap(item, names)


def _asker(memory: Memory, test: Test) -> Any:  # noqa: ANN401 - it takes a method's place
    def ask(_: object) -> bool:
        return memory.test(test)

    return ask


VAGUE = "vague"
"""What a spur is told of its step while it only asks whether that has changed: it has."""


def _derived(watch: Watch, work_out: Callable[[Any], Hashable]) -> property:
    """What is worked out from the rest: before a run it is as it ought to be.

    After each run ``Judge`` sees whether that still holds, so that it is assumed nowhere.
    """
    memory = watch.memory

    def get(it: object) -> Hashable:
        if not memory.before and it in memory.derived:
            return memory.derived[it]
        if watch.vague:
            return VAGUE
        before, memory.before = memory.before, True
        try:
            return work_out(it)
        except StopIteration:
            raise Infeasible from None  # Closing with everything back; see ``Judge``.
        finally:
            memory.before = before

    def set_to(it: object, value: Hashable) -> None:
        memory.derived[it] = value

    return property(get, set_to)


def _watch_timer(watch: Watch, timer: Timer) -> None:
    memory, cell = watch.memory, watch.pending[timer]

    def get(it: Timer) -> int | None:
        if not memory.before and it in watch.due:
            return watch.due[it]
        return NOW_US * 2 if memory.read(cell) else None

    def set_to(it: Timer, value: int | None) -> None:
        watch.due[it] = value
        memory.write(cell, value is not None)

    swap(timer, {"due_us": property(get, set_to)})
