"""The shipped core with its memory laid open: the same methods, reading and writing cells.

Each machine keeps its class's code. Only where an attribute remembers something from one event
to the next does a property stand in its place, so that what is remembered lies in ``Memory``.
"""

from __future__ import annotations

from array import array
from collections.abc import Callable, Hashable, Mapping
from dataclasses import dataclass, field
from functools import partial
from typing import Any

from firmware_py.core.agenda import Timer
from firmware_py.core.contacts import Contact
from firmware_py.core.core import Core
from firmware_py.core.ledger import _Last
from firmware_py.core.names import Points, Rule
from firmware_py.core.protections import Protection, SwitchProtection
from firmware_py.core.spur import Spur
from firmware_py.core.stand import Stand
from firmware_py.core.switch import Switch
from firmware_py.layout.model import Layout
from firmware_py.proof.cells import Cell, Infeasible, Memory, Test

NOW_US = 1_000_000_000
"""When the event of every run happens; only what comes first and what is pending matters."""

ONE = 1
"""One violation that stands, or more: no rule asks how many."""

SWITCH_CELLS = (
    "points", "stage", "spell", "spell_runs", "_kept", "_said_lined", "_said_unlocked",
)  # fmt: skip
SPUR_CELLS = ("phase", "_had_off")
OWN_CONTACTS = ("hasp", "normal", "reverse", "detector")
"""The contacts that a switch itself reads."""


class Probe:
    """An output that stands for all of a stand's, and notes when it was shown anew."""

    def __init__(self, memory: Memory) -> None:
        self.memory = memory
        self.of, self.output = "probe", "probe"
        self.shows: object = None
        self.asked: object = None
        self.seen = 0

    def look(self) -> object:
        """Note that it was looked at; what it shows is new each time."""
        self.seen = len(self.memory.log)
        self.asked = object()
        return self.asked


@dataclass(frozen=True, slots=True)
class Report:
    """What a stand's spurs and outputs are told of what the switch did in an event."""

    stand: int
    turn: int
    quiet: bool
    anew: bool
    breaches: tuple[tuple[int, Rule, str, str | None, tuple[str, ...], int], ...]


@dataclass(slots=True)
class Watch:
    """A core and where each thing that it remembers lies."""

    layout: Layout
    core: Core
    memory: Memory
    settled: dict[str, Cell] = field(default_factory=dict)
    chattering: dict[str, Cell] = field(default_factory=dict)
    pending: dict[Timer, Cell] = field(default_factory=dict)
    says: dict[str, Cell] = field(default_factory=dict)
    testing: dict[str, Cell] = field(default_factory=dict)
    of_switch: dict[str, dict[str, Cell]] = field(default_factory=dict)
    of_spur: dict[str, dict[str, Cell]] = field(default_factory=dict)
    open: dict[int, Cell] = field(default_factory=dict)
    due: dict[Timer, int | None] = field(default_factory=dict)
    miscounts: list[str] = field(default_factory=list)
    reports: list[Report] | None = None
    lately: bool | None = None
    """Whether what the run raised was raised lately too, and stands; ``None``: not asked yet."""
    apart: bool = True
    """Whether a switch's deadlines are left as they are: ``explore`` moves them by themselves."""
    vague: bool = False
    concluded: dict[Spur, int] = field(default_factory=dict)
    """How much had been written when a spur concluded the event."""
    probe: Probe | None = None
    told: Report | None = None
    """Where the run is to end as a stand begins to conclude: what its switch reports then."""
    raised: list[tuple[Rule, str, tuple[str, ...], int, bool]] = field(default_factory=list)
    """What the run raised: rule, thing, what was missing, stand, and whether it was a repeat."""

    @property
    def stands(self) -> tuple[Stand, ...]:
        """The stands of the core."""
        return self.core._machines.stands

    @property
    def spurs(self) -> dict[str, Spur]:
        """The spurs of the core, by id."""
        return self.core._machines.spurs

    @property
    def contacts(self) -> dict[str, Contact]:
        """The contacts of the core, by name."""
        return self.core._contacts


def plain_timers(watch: Watch) -> list[Timer]:
    """The deadlines of contacts, which no rule asks about: they are set anew for each run."""
    return [timer for contact in watch.contacts.values() for timer in contact.timers]


def watched(layout: Layout) -> Watch:
    """A core of ``layout`` (without traps) with all that it remembers in cells."""
    watch = Watch(layout, Core(layout), Memory())
    for stand in watch.stands:
        _lay_out(watch, stand)
    for name, contact in watch.contacts.items():
        _watch_contact(watch, name, contact)
    for stand in watch.stands:
        _watch_stand(watch, stand)
    _watch_ledger(watch)
    return watch


def swap(thing: object, names: Mapping[str, Any]) -> None:
    """Give ``thing`` its class's code with some of its attributes laid open."""
    own = type(thing)
    made: Any = type(f"Watched{own.__name__}", (own,), {"__slots__": (), **names})
    thing.__class__ = made


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

    swap(switch, names | {"faults": _fault_property(watch, switch), "stir": stirred})
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
        names["faults"] = _fault_property(watch, item)
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


class FaultCount:
    """How many faults are with a thing: what is with it now, and what the run has added.

    ``bool`` answers whether there is one, from the contacts themselves; ``Judge`` sees to it
    that what was added is what has happened to them.
    """

    __slots__ = ("added", "thing", "watch")

    def __init__(self, watch: Watch, thing: Any, added: int = 0) -> None:  # noqa: ANN401
        self.watch = watch
        self.thing = thing
        self.added = added

    def __add__(self, number: int) -> FaultCount:
        return FaultCount(self.watch, self.thing, self.added + number)

    def __bool__(self) -> bool:
        return is_faulty(self.watch, self.thing)


def is_faulty(watch: Watch, thing: object) -> bool:
    """Whether a contact of a thing is unknown or chattering, or a switch's points disputed."""
    read = watch.memory.read
    mine = [name for name, contact in watch.contacts.items() if contact.home is thing]
    if isinstance(thing, Switch) and thing.points is Points.DISPUTED:
        return True
    return any(read(watch.settled[name]) is None for name in mine) or any(
        read(watch.chattering[name]) is True for name in mine
    )


def _fault_property(watch: Watch, thing: object) -> property:
    memory = watch.memory

    def get(_: object) -> FaultCount:
        found = None if memory.before else memory.derived.get((thing, "faults"))
        return found if isinstance(found, FaultCount) else FaultCount(watch, thing)

    def set_to(_: object, value: FaultCount) -> None:
        memory.derived[thing, "faults"] = value

    return property(get, set_to)


class _Some(int):
    """The count of what stands at a stand while nobody asks for it: to add needs no question."""

    read: Callable[[], int]

    def __add__(self, number: int) -> int:
        return ONE if number > 0 else self.read() + number

    def __sub__(self, number: int) -> int:
        return self.read() - number

    def __bool__(self) -> bool:
        return self.read() > 0


class _Open(list[int]):
    """How many violations stand at each stand: none, or one or more."""

    def __init__(self, watch: Watch) -> None:
        super().__init__([0] * len(watch.stands))
        self.watch = watch

    def __getitem__(self, stand: Any) -> Any:  # noqa: ANN401 - a list's own signature
        some = _Some()
        some.read = lambda: self.watch.memory.read(self.watch.open[stand])  # type: ignore[assignment,return-value]
        return some

    def __setitem__(self, stand: Any, count: Any) -> None:  # noqa: ANN401 - the same
        memory = self.watch.memory
        if count < ONE:  # Of one or more, one was acknowledged: more may stand.
            count = ONE if memory.choose(2) else 0
        memory.write(self.watch.open[stand], min(count, ONE))


class _Lately(dict[Any, _Last]):
    """Whether a breach was met lately and still stands: it may be so where violations stand."""

    def __init__(self, watch: Watch) -> None:
        super().__init__()
        self.watch = watch

    def get(self, breach: Any, default: Any = None) -> Any:  # noqa: ANN401 - a dict's signature
        watch = self.watch
        if watch.lately is None:
            # All that one event raises is new, or none of it: if any is, it sounds the same.
            watch.lately = bool(watch.memory.choose(2))
            if watch.lately:
                watch.memory.require(watch.open[watch.core._event.stand], ONE)
        return _Last(1, NOW_US) if watch.lately else None


def _watch_ledger(watch: Watch) -> None:
    ledger = watch.core._event.ledger
    ledger.open_at = _Open(watch)
    ledger._last = _Lately(watch)
    ledger._stands = array("l")
    count = type(ledger).count

    def counted(it: Any, t_us: int, breach: Any, stand: int) -> tuple[int, int]:  # noqa: ANN401
        number, times = count(it, t_us, breach, stand)
        watch.raised.append((*breach, stand, times > 1))
        return number, times

    swap(ledger, {"count": counted})
