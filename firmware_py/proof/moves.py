"""Everything that can happen next, each told to the core by its own verbs.

A contact's raw edges are not followed one by one. Nothing but the contact itself reads them, and
all that can come of them is that it settles at the other value, is lost, begins to chatter or is
quiet again; so each of these may happen at any time. A deadline that is pending may be the next
one, whichever it is: more orders than a clock would allow, and so none is left out.
"""

from __future__ import annotations

from array import array
from collections.abc import Callable, Iterator
from dataclasses import dataclass

from firmware_py.core.agenda import Timer
from firmware_py.core.contacts import CHATTER_EDGES
from firmware_py.core.names import Command
from firmware_py.core.orders import Order
from firmware_py.core.stand import Stand
from firmware_py.proof.watch import NOW_US, ONE, Watch

SPUR_COMMANDS = tuple(command for command in Command if command is not Command.ACKNOWLEDGE)


STIRRED = "stirred"
"""A spur's detector settled or an order was accepted: a switch's deadlines are set anew."""


@dataclass(frozen=True, slots=True)
class Move:
    """One thing that can happen at a stand: ``act`` is what, ``on`` to whom."""

    stand: int
    act: str
    on: str
    go: Callable[[Watch], None]
    value: bool | None = None
    timer: Timer | None = None

    def __str__(self) -> str:
        return f"{self.act} {self.on}"


def moves_at(watch: Watch, stand: Stand) -> Iterator[Move]:
    """Every move at a stand."""
    number = stand.number
    for name, contact in watch.contacts.items():
        if contact.judge is stand:
            for made in (True, False):
                word = f"settles {'made' if made else 'open'}"
                yield Move(number, word, name, _settling(name, made), made)
            yield Move(number, "lost", name, _losing(name))
            yield Move(number, "chatters", name, _chattering(name))
            yield Move(number, "quiet", name, _quieting(name))
    for spur in stand.spurs:
        for command in SPUR_COMMANDS:
            yield Move(number, command.value, spur.id, _ordering(command, spur.id))
    yield Move(number, "acknowledge", stand.switch.id, _acknowledging(number))
    yield Move(number, STIRRED, stand.switch.id, _stirring(stand))
    for timer in stand.timers:
        yield Move(
            number, "due", f"{timer.name[1]} {timer.name[0].name}", _firing(timer), None, timer
        )


def reset(watch: Watch, stand: int) -> None:
    """Forget what a run left behind: all that lies outside the cells."""
    core = watch.core
    event = core._event
    event.entries, event.found, event.breaches = [], [], []
    event.stand, event.quiet, event.t_us = stand, False, NOW_US
    event.ledger._stands = array("l", [stand])
    core._agenda.heap.clear()
    core.now_us = 0
    watch.due.clear()
    watch.raised.clear()
    watch.lately, watch.vague = None, False
    watch.concluded.clear()
    if watch.probe is not None:
        watch.probe.seen, watch.probe.shows, watch.probe.asked = -1, None, None
    watch.told = None
    for here in watch.stands:
        here.switch._stage_us = here.switch._detector_us = here.switch.spur_us = NOW_US
        here.switch.turn = 0
        for spur in here.spurs:
            spur.dirty = spur._begins = spur._done = False
    for timer in watch.pending:
        timer.queued_us = None


def settle(watch: Watch, name: str, made: bool) -> None:
    """A contact settles now, having held its value for its settle time."""
    contact = watch.contacts[name]
    watch.memory.restrict(watch.settled[name], lambda value: value is not made)
    settle_now(watch, name, made, contact._settle_us if made else contact._clear_us)


def settle_now(watch: Watch, name: str, made: bool, wait_us: int) -> None:
    """The verbs that settle a contact ``wait_us`` after its edge, at the moment of the run."""
    contact, core = watch.contacts[name], watch.core
    _still(watch, name)
    contact.raw = not made
    core.now_us = NOW_US - wait_us
    core.reading(NOW_US - wait_us, name, made)
    core._event.entries += core.advance(NOW_US)


def _still(watch: Watch, name: str) -> None:
    contact = watch.contacts[name]
    contact._recent = []
    for timer in contact.timers:
        timer.due_us = timer.queued_us = None


def _settling(name: str, made: bool) -> Callable[[Watch], None]:
    return lambda watch: settle(watch, name, made)


def _losing(name: str) -> Callable[[Watch], None]:
    def lose(watch: Watch) -> None:
        watch.memory.restrict(watch.settled[name], lambda value: value is not None)
        _still(watch, name)
        watch.contacts[name].raw = True
        watch.core._event.entries += watch.core.reading(NOW_US, name, None)

    return lose


def _chattering(name: str) -> Callable[[Watch], None]:
    def chatter(watch: Watch) -> None:
        watch.memory.restrict(watch.chattering[name], lambda value: value is False)
        _still(watch, name)
        contact = watch.contacts[name]
        contact.raw = False
        contact._recent = [NOW_US - 1] * (CHATTER_EDGES - 1)
        watch.core._event.entries += watch.core.reading(NOW_US, name, True)

    return chatter


def _quieting(name: str) -> Callable[[Watch], None]:
    def quiet(watch: Watch) -> None:
        watch.memory.restrict(watch.chattering[name], lambda value: value is True)
        _still(watch, name)
        timer = watch.contacts[name]._quiet
        timer.set(NOW_US)
        watch.core._event.entries += watch.core.advance(NOW_US)

    return quiet


def _ordering(command: Command, spur: str) -> Callable[[Watch], None]:
    cars = 1 if command is Command.START_BRAKE_TEST else None
    order = Order(command, spur, cars=cars)

    def give(watch: Watch) -> None:
        watch.core._event.entries += watch.core.order(NOW_US, order)

    return give


def _acknowledging(stand: int) -> Callable[[Watch], None]:
    order = Order(Command.ACKNOWLEDGE, violation=1)

    def acknowledge(watch: Watch) -> None:
        watch.memory.restrict(watch.open[stand], lambda value: value == ONE)
        watch.core._event.entries += watch.core.order(NOW_US, order)

    return acknowledge


def _stirring(stand: Stand) -> Callable[[Watch], None]:
    def stir(watch: Watch) -> None:
        watch.apart = False
        try:
            stand.switch.stir()
        finally:
            watch.apart = True
        pending = {watch.pending[timer] for timer in stand.switch.timers}
        assert watch.memory.written.keys() <= pending, "only deadlines move"

    return stir


def _firing(timer: Timer) -> Callable[[Watch], None]:
    def fire(watch: Watch) -> None:
        watch.memory.restrict(watch.pending[timer], lambda value: value is True)
        watch.due[timer] = timer.queued_us = NOW_US
        watch.core._agenda.heap.append((NOW_US, timer.rank, timer))
        watch.core._event.entries += watch.core.advance(NOW_US)

    return fire
