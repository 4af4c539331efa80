"""What one event brings: it collects entries and hands them out in the order of section 10.

An event is a settling, a deadline or an order (and a raw edge that starts a fault).
"""

from __future__ import annotations

import msgspec

from firmware_py.core.entries import Entry, FaultEntry, Violation
from firmware_py.core.ledger import NO_STAND, Ledger
from firmware_py.core.names import Fault, Rule

REFUSALS, FAULTS, SPEEDS, FOREMEN, BRAKE_TESTS, STAGES, VIOLATIONS, PHASES, OUTPUTS = range(9)
"""The places of the kinds of entry within one event."""

TRAP_OUTPUTS = OUTPUTS + 1
"""Traps come after all other things in a layout, and so do their lamps."""

_FAULT_PLACE = {fault: place for place, fault in enumerate(Fault)}
_RULE_PLACE = {rule: place for place, rule in enumerate(Rule)}


class Settled(msgspec.Struct, frozen=True):
    """A note for the logbook: a contact settled at ``made`` (``None``: it became unknown)."""

    t_us: int
    contact: str
    made: bool | None


class Repeated(msgspec.Struct, frozen=True):
    """A note for the logbook: violation ``number`` was seen again, ``times`` in all."""

    t_us: int
    number: int
    times: int


Note = Settled | Repeated


class Event:
    """The event that is being judged; one object serves them all, one after the other.

    ``quiet`` says that no rule may be raised: the settling is that of a chattering contact, or
    the first after the contact was unknown (section 7).
    """

    __slots__ = ("breaches", "entries", "found", "ledger", "notes", "quiet", "stand", "t_us")

    def __init__(self, ledger: Ledger, notes: list[Note] | None) -> None:
        self.ledger = ledger
        self.notes = notes
        self.t_us = 0
        self.quiet = False
        self.stand = NO_STAND
        self.entries: list[Entry] = []
        self.found: list[tuple[int, int, Entry]] = []
        self.breaches: list[tuple[int, Rule, str, str | None, tuple[str, ...], int]] = []

    def add(self, place: int, entry: Entry) -> None:
        """Collect an entry that is neither a fault nor a violation."""
        self.found.append((place, len(self.found), entry))

    def fault(self, fault: Fault, at: str, *, ended: bool) -> None:
        """Collect that a fault began or ended; they stand in the order of section 7."""
        entry = FaultEntry(self.t_us, fault, at, ended)
        self.found.append((FAULTS, _FAULT_PLACE[fault], entry))

    def breach(self, rule: Rule, at: str, spur: str | None, missing: tuple[str, ...] = ()) -> None:
        """Raise ``rule``, unless the event is quiet; it counts at the stand that is judged."""
        if not self.quiet:
            self.breaches.append((_RULE_PLACE[rule], rule, at, spur, missing, self.stand))

    def breach_elsewhere(self, rule: Rule, at: str) -> None:
        """Raise ``rule`` at a thing that belongs to no stand."""
        if not self.quiet:
            self.breaches.append((_RULE_PLACE[rule], rule, at, None, (), NO_STAND))

    def judge(self) -> bool:
        """Turn what was raised into violations; say whether one is new at the stand judged."""
        breaches, self.breaches = self.breaches, []
        breaches.sort(key=_place_of)
        new_here = False
        for _, rule, at, spur, missing, stand in breaches:
            is_new = self._count(rule, at, spur, missing, stand)
            new_here = new_here or (is_new and stand == self.stand)
        return new_here

    def _count(
        self, rule: Rule, at: str, spur: str | None, missing: tuple[str, ...], stand: int
    ) -> bool:
        number, times = self.ledger.count(self.t_us, (rule, at, missing), stand)
        if times == 1:
            self.add(VIOLATIONS, Violation(self.t_us, number, rule, at, spur, missing))
        elif self.notes is not None:
            self.notes.append(Repeated(self.t_us, number, times))
        return times == 1

    def close(self) -> None:
        """Hand out what was collected, in order."""
        found = self.found
        if found:
            if len(found) > 1:
                found.sort(key=_order_of)
            self.entries.extend([entry for _, _, entry in found])
            found.clear()


def _place_of(breach: tuple[int, Rule, str, str | None, tuple[str, ...], int]) -> int:
    return breach[0]


def _order_of(found: tuple[int, int, Entry]) -> tuple[int, int]:
    return found[:2]
