"""What a watched core counts: faults at a thing, and violations that stand at a stand."""

from __future__ import annotations

from array import array
from collections.abc import Callable
from typing import Any

from firmware_py.core.ledger import _Last
from firmware_py.core.names import Points
from firmware_py.core.switch import Switch
from firmware_py.proof.watch import NOW_US, ONE, Watch, swap


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


def fault_property(watch: Watch, thing: object) -> property:
    """What stands in the place of a thing's count of faults."""
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


def watch_ledger(watch: Watch) -> None:
    """Lay open how many violations stand, and whether one was met lately."""
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
