"""Splitting time and repeating readings change nothing (property 7)."""

from __future__ import annotations

from collections.abc import Iterator
from itertools import permutations

from firmware_py.core.agenda import Timer
from firmware_py.core.contacts import CHATTER_EDGES, Contact
from firmware_py.core.stand import Stand
from firmware_py.layout.model import MADE_AT_REST
from firmware_py.proof.moves import _still, reset
from firmware_py.proof.watch import NOW_US, Watch

Tape = tuple[dict[str, object], ...]


def differences(watch: Watch, stand: Stand) -> Iterator[tuple[str, Tape]]:
    """What comes out otherwise when a reading is repeated or the time is told in pieces.

    With a tape that ought to show it, where one can be told.
    """
    for name, contact in watch.contacts.items():
        if contact.judge is stand:
            for what in _repeated(watch, stand, name):
                yield what, _often(name)
    for first, second in permutations(stand.timers, 2):
        for what in _split(watch, stand, first, second):
            yield what, ()


def _often(name: str) -> Tape:
    """One edge, and the same reading more often than a chattering contact has edges."""
    made = name.rpartition(".")[2] not in MADE_AT_REST
    rows: list[dict[str, object]] = [
        {"t": 1 + number / 1000, "contact": name, "made": made}
        for number in range(CHATTER_EDGES + 4)
    ]
    return (*rows, {"t": 10, "end": True})


def _kept(contact: Contact) -> tuple[object, ...]:
    """What a contact keeps to itself of its raw edges."""
    due = [timer.due_us for timer in contact.timers]
    return contact.raw, contact.edge_us, tuple(contact._recent), tuple(due)


def _repeated(watch: Watch, stand: Stand, name: str) -> Iterator[str]:
    for made in (True, False, None):
        told: list[bool] = []

        def again(made: bool | None = made, told: list[bool] = told) -> None:
            reset(watch, stand.number)
            _still(watch, name)
            contact = watch.contacts[name]
            contact.raw = made
            before = _kept(contact)
            entries = watch.core.reading(NOW_US, name, made)
            written = watch.memory.written or watch.memory.derived
            told.append(bool(entries or written or before != _kept(contact)))

        for _ in watch.memory.runs({}, again):
            pass
        if any(told):
            yield f"a repeated reading of {name} changes something"


def _split(watch: Watch, stand: Stand, first: Timer, second: Timer) -> Iterator[str]:
    met: list[bool] = []

    def both() -> None:
        memory = watch.memory
        outcomes = []
        lately: bool | None = None
        for times in ((NOW_US + 2,), (NOW_US, NOW_US + 1, NOW_US + 1, NOW_US + 2)):
            reset(watch, stand.number)
            watch.lately = lately
            memory.written, memory.derived, memory.log = {}, {}, []
            memory.require(watch.pending[first], True)
            memory.require(watch.pending[second], True)
            for timer, due_us in ((first, NOW_US), (second, NOW_US + 1)):
                watch.due[timer] = timer.queued_us = due_us
                watch.core._agenda.heap.append((due_us, timer.rank, timer))
            watch.core._agenda.heap.sort(key=lambda item: item[:2])
            entries = [entry for t_us in times for entry in watch.core.advance(t_us)]
            lately = watch.lately
            outcomes.append((entries, dict(memory.written)))
        met.append(outcomes[0] != outcomes[1])

    for _ in watch.memory.runs({}, both):
        pass
    if any(met):
        yield f"{first.name[0].name} and then {second.name[0].name} depend on how time is told"
