"""The core's four verbs: take a reading, take an order, take the time, say the next deadline.

``Core`` has no clock and no thread: whoever drives it says what time it is, and the entries
that come back are all that happened up to then. The same readings in give the same entries
out, however the time between them was split.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence

from firmware_py.core.agenda import Agenda
from firmware_py.core.build import build
from firmware_py.core.contacts import Contact
from firmware_py.core.entries import Entry, Refused
from firmware_py.core.event import REFUSALS, Event, Note
from firmware_py.core.ledger import NO_STAND, Ledger
from firmware_py.core.names import Command, Fault, Foreman, Phase, Points, Shows, Stage
from firmware_py.core.orders import Order
from firmware_py.core.rulings import rule_on
from firmware_py.core.spur import Spur
from firmware_py.layout.model import MADE_AT_REST, Layout

NOTHING: Sequence[Entry] = ()


class Core:
    """One layout, from the beginning of a session (0 µs) on.

    ``standing`` says how contacts stand as it begins: made, open or (``None``) unknown; any it
    doesn't name stands as in a spur at rest. With ``notes`` the core also keeps the notes that
    ``take_notes`` hands out.

    Raises ``KeyError`` for a contact or spur that the layout doesn't have, and ``ValueError``
    for a time that falls.
    """

    def __init__(
        self, layout: Layout, standing: Mapping[str, bool | None] = {}, *, notes: bool = False
    ) -> None:
        ledger = Ledger(layout.times.repeat_within_us, len(layout.switches))
        self._agenda = Agenda()
        self._event = Event(ledger, [] if notes else None)
        self.layout = layout
        self._wait_ratio = layout.wait_ratio
        self._machines = build(layout, self._event, self._agenda)
        self._contacts = self._machines.contacts
        self.now_us = 0
        self._press_buttons()
        self._begin(layout, standing)

    def _begin(self, layout: Layout, standing: Mapping[str, bool | None]) -> None:
        at_rest = {contact.name: contact.role in MADE_AT_REST for contact in layout.contacts}
        for name, made in standing.items():
            self._contacts[name].begin(made)
        for name, made in at_rest.items():
            if name not in standing:
                self._contacts[name].begin(made)
        for stand in self._machines.stands:
            stand.begin()

    def _press_buttons(self) -> None:
        for name, spur in self._machines.buttons.items():
            self._contacts[name].react = self._presser(spur)

    def _presser(self, spur: Spur) -> Callable[[Contact, bool], None]:
        def press(contact: Contact, pressed: bool) -> None:
            if not pressed or contact.was is None:
                return  # A button that was unknown until now has not been seen to be pressed.
            if spur.phase is Phase.IDLE:
                self._rule(spur, Order(Command.ASK, spur.id))
            elif spur.phase is not Phase.CLOSING:
                self._rule(spur, Order(Command.WORK_DONE, spur.id))

        return press

    # The verbs.

    @property
    def deadline_us(self) -> int | None:
        """When the core next wants to be told the time, or ``None`` if never."""
        return self._agenda.next_us()

    def reading(self, t_us: int, contact: str, made: bool | None) -> Sequence[Entry]:
        """Take a raw reading: ``made`` is ``None`` where the contact doesn't answer."""
        self._advance(t_us)
        self._event.t_us = t_us
        self._contacts[contact].edge(t_us, made)
        if self._event.found:
            self._event.close()
        return self._entries()

    def order(self, t_us: int, order: Order) -> Sequence[Entry]:
        """Take an order; one that makes no sense is answered with ``Refused``."""
        self._advance(t_us)
        event = self._event
        event.t_us = t_us
        event.quiet = False
        if order.command is Command.ACKNOWLEDGE:
            self._acknowledge(order)
        else:
            self._order_spur(order)
        event.close()
        return self._entries()

    def advance(self, t_us: int) -> Sequence[Entry]:
        """Take the time: everything due at or before ``t_us`` happens."""
        self._advance(t_us)
        return self._entries()

    def take_notes(self) -> list[Note]:
        """Hand out the notes since the last call: settlings, and repeats of violations."""
        notes = self._event.notes
        if notes is None:
            return []
        self._event.notes = []
        return notes

    # How things stand now.

    def settled(self) -> dict[str, bool | None]:
        """The settled value of every contact."""
        return {name: contact.settled for name, contact in self._contacts.items()}

    def raw(self) -> dict[str, bool | None]:
        """The raw level of every contact."""
        return {name: contact.raw for name, contact in self._contacts.items()}

    def stages(self) -> dict[str, Stage]:
        """The stage of every switch."""
        return {stand.switch.id: stand.switch.stage for stand in self._machines.stands}

    def phases(self) -> dict[str, tuple[Phase, str | None]]:
        """The phase and next step of every spur."""
        return {spur.id: (spur.phase, spur.next_step) for spur in self._spurs()}

    def foremen(self) -> dict[str, Foreman]:
        """What the foreman says, for every spur that has one."""
        return {spur.id: spur.says for spur in self._spurs() if spur.foreman}

    def outputs(self) -> dict[tuple[str, str], Shows]:
        """What every fitted output shows, by thing and output."""
        shown = {
            (fitted.of, fitted.output): fitted.shows
            for stand in self._machines.stands
            for fitted in stand.fitted
        }
        return shown | {(lamp.of, "lamp"): lamp.shows for lamp in self._machines.trap_lamps}

    def faults(self) -> list[tuple[Fault, str]]:
        """The faults that stand now, each with the switch or contact it is at."""
        contacts = self._contacts.values()
        lost = [(Fault.LOST, c.name) for c in contacts if c.settled is None]
        chattering = [(Fault.CHATTERING, c.name) for c in contacts if c.chattering]
        switches = [stand.switch for stand in self._machines.stands]
        disputed = [(Fault.POINTS_DISPUTED, s.id) for s in switches if s.points is Points.DISPUTED]
        return lost + chattering + disputed

    # Inside.

    def _spurs(self) -> Iterable[Spur]:
        return self._machines.spurs.values()

    def _advance(self, t_us: int) -> None:
        if t_us < self.now_us:
            raise ValueError(f"time falls: {t_us} µs after {self.now_us} µs")
        heap = self._agenda.heap
        event = self._event
        while heap and heap[0][0] <= t_us:
            timer = self._agenda.pop()
            if timer is not None:
                event.t_us = timer.fired_us
                timer.fire()
                if event.found:
                    event.close()
        self.now_us = t_us

    def _entries(self) -> Sequence[Entry]:
        event = self._event
        if not event.entries:
            return NOTHING
        entries, event.entries = event.entries, []
        return entries

    def _order_spur(self, order: Order) -> None:
        spur = self._machines.spurs[order.spur or ""]
        self._event.stand = self._machines.stand_of[spur.id].number
        self._rule(spur, order)
        self._machines.stand_of[spur.id].conclude(anew=True)

    def _rule(self, spur: Spur, order: Order) -> None:
        why = rule_on(spur, order, self._wait_ratio)
        if why is None:
            spur.switch.stir()
        else:
            self._refuse(order, why)

    def _acknowledge(self, order: Order) -> None:
        stand, why = self._event.ledger.acknowledge(order.violation or 0)
        if why is not None:
            self._refuse(order, why)
        elif stand != NO_STAND:
            self._machines.stands[stand].conclude(anew=True)

    def _refuse(self, order: Order, why: str) -> None:
        refused = Refused(self._event.t_us, order.command, order.spur, order.violation, why)
        self._event.add(REFUSALS, refused)
