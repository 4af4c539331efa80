"""From a layout to the machines of the core: everything is looked up once, here."""

from __future__ import annotations

from dataclasses import dataclass
from functools import partial

from firmware_py.core import outputs
from firmware_py.core.agenda import Agenda, Timer, rank_all
from firmware_py.core.contacts import Contact, React
from firmware_py.core.event import Event
from firmware_py.core.protections import (
    ChockProtection,
    DerailProtection,
    ForemanProtection,
    GateProtection,
    Protection,
    RackProtection,
    SwitchProtection,
)
from firmware_py.core.spur import Spur
from firmware_py.core.stand import Stand
from firmware_py.core.switch import Switch
from firmware_py.core.traps import Trap, TrapLamp
from firmware_py.layout import model


@dataclass(frozen=True, slots=True)
class Machines:
    """Everything the core drives, by name."""

    contacts: dict[str, Contact]
    stands: tuple[Stand, ...]
    spurs: dict[str, Spur]
    stand_of: dict[str, Stand]
    """The stand of each spur."""
    buttons: dict[str, Spur]
    """The spur that a button speaks for, by the button's contact."""
    trap_lamps: tuple[TrapLamp, ...]


class _Builder:
    """Builds the machines of one layout, step by step."""

    def __init__(self, layout: model.Layout, event: Event, agenda: Agenda) -> None:
        self.layout = layout
        self.event = event
        self.agenda = agenda
        self.contacts = {
            contact.name: Contact(event, agenda, contact.name, contact.settle_us, contact.clear_us)
            for contact in layout.contacts
        }
        self.hooks = {key.id: self.contacts[key.hook.name] for key in layout.keys}

    def contact(self, contact: model.Contact | None) -> Contact | None:
        """The core's own of a layout's contact, where that is fitted."""
        return None if contact is None else self.contacts[contact.name]

    def switch(self, layout: model.Switch) -> Switch:
        """A switch with its contacts and its key's hook."""
        contacts = {str(item.role): self.contacts[item.name] for item in layout.contacts}
        switch = Switch(self.event, self.agenda, layout.id, self.layout.times, contacts)
        switch.hook = self.hooks.get(layout.key or "")
        return switch

    def spur(self, layout: model.Spur, switch: Switch) -> Spur:
        """A spur with its own contacts and its protections in their orders."""
        spur = Spur(
            self.event,
            self.agenda,
            layout.id,
            switch,
            return_us=self.layout.times.return_within_us,
            grade_matters=layout.grade_percent >= self.layout.chock_from_percent,
        )
        spur.fit(self.contact(layout.detector), self.contact(layout.fouling))
        steps = self._protections(layout, spur)
        spur.arrange(
            tuple(steps[step] for step in layout.opening),
            tuple(steps[step] for step in layout.closing),
        )
        switch.spur_id = switch.spur_id or layout.id
        return spur

    def _protections(self, layout: model.Spur, spur: Spur) -> dict[str, Protection]:
        spur.flags = tuple(
            RackProtection(self.event, spur, flag.id, self.contacts[flag.rack.name])
            for flag in self.layout.flags
            if flag.spur == layout.id
        )
        spur.chocks = tuple(
            ChockProtection(
                self.event, spur, chock.id, self.contacts[chock.rack.name], spur.detector
            )
            for chock in self.layout.chocks
            if chock.spur == layout.id
        )
        if layout.foreman is not model.ForemanKind.NONE:
            spur.foreman = ForemanProtection(self.event, spur)
        own: list[Protection] = [SwitchProtection(self.event, spur, spur.switch)]
        own += [self._gate(gate, spur) for gate in self.layout.gates if gate.spur == layout.id]
        own += [
            self._derail(derail, spur) for derail in self.layout.derails if derail.spur == layout.id
        ]
        own += [*spur.flags, *spur.chocks, *([spur.foreman] if spur.foreman else [])]
        return {item.step: item for item in own}

    def _gate(self, layout: model.Gate, spur: Spur) -> GateProtection:
        shut, hasp = self.contacts[layout.shut.name], self.contact(layout.hasp)
        gate = GateProtection(self.event, spur, layout.id, shut, hasp)
        gate.hook = self.hooks.get(layout.key or "")
        if layout.detector is not None:
            gate.watch(self.contacts[layout.detector.name])
        return gate

    def _derail(self, layout: model.Derail, spur: Spur) -> DerailProtection:
        on, hasp = self.contacts[layout.on.name], self.contact(layout.hasp)
        derail = DerailProtection(self.event, spur, layout.id, on, hasp)
        if layout.detector is not None:
            derail.watch(self.contacts[layout.detector.name])
        return derail

    def stand(self, number: int, layout: model.Switch) -> Stand:
        """A switch with its spurs, and everything that is fitted there."""
        switch = self.switch(layout)
        spurs = tuple(
            self.spur(spur, switch) for spur in self.layout.spurs if spur.switch == layout.id
        )
        stand = Stand(self.event, self.agenda, number, switch, spurs)
        self._fit_switch(stand, layout)
        self._fit_spurs(stand)
        self._put_in_charge(stand)
        return stand

    def _put_in_charge(self, stand: Stand) -> None:
        things = {stand.switch.id}
        for spur in stand.spurs:
            things |= {spur.id, *(item.step for item in spur.opening)}
        for contact in self.layout.contacts:
            if contact.thing in things:
                self.contacts[contact.name].judge = stand
        stand.take_charge()

    def _fit_switch(self, stand: Stand, layout: model.Switch) -> None:
        looks = {
            "green": partial(outputs.green, stand.switch, stand.open_here),
            "red": partial(outputs.red, stand.switch, stand.open_here),
            "white": partial(outputs.white, stand.switch, stand.spurs),
            "bolt": partial(outputs.bolt, stand.switch, stand.spurs),
        }
        for output, _ in model.outputs_of(layout):
            if output == "buzzer":
                stand.fit_buzzer()
            else:
                stand.fit(layout.id, output, looks[output]())

    def _fit_spurs(self, stand: Stand) -> None:
        looks = {spur.id: outputs.power(spur) for spur in stand.spurs}
        for spur in stand.spurs:
            looks |= {item.step: outputs.lamp(item, spur) for item in spur.opening}
        for thing in self.layout.things:
            for output, _ in model.outputs_of(thing):
                if output in ("power", "lamp") and thing.id in looks:
                    stand.fit(thing.id, output, looks[thing.id])

    def set_traps(self) -> tuple[TrapLamp, ...]:
        """Let each trap hear its two detectors, after whatever else hears them; their lamps."""
        lamps = [
            None if layout.lamp is None else TrapLamp(self.event, self.agenda, layout.id)
            for layout in self.layout.traps
        ]
        for layout, lamp in zip(self.layout.traps, lamps, strict=True):
            trap = Trap(self.event, layout, self.layout.ratio, lamp)
            for name in (layout.first, layout.second):
                contact = self.contacts[name]
                contact.react = _both(contact.react, trap)
        return tuple(lamp for lamp in lamps if lamp is not None)

    def buttons(self, spurs: dict[str, Spur]) -> dict[str, Spur]:
        """Each button with the first spur of its switch, for which it speaks."""
        return {
            switch.button.name: next(
                spurs[s.id] for s in self.layout.spurs if s.switch == switch.id
            )
            for switch in self.layout.switches
            if switch.button and any(spur.switch == switch.id for spur in self.layout.spurs)
        }


def _both(react: React, trap: Trap) -> React:
    def both(contact: Contact, made: bool) -> None:
        react(contact, made)
        trap.passed(contact, made)

    return both


def build(layout: model.Layout, event: Event, agenda: Agenda) -> Machines:
    """Build the machines of a layout; how things stand is not set yet."""
    builder = _Builder(layout, event, agenda)
    stands = tuple(builder.stand(number, item) for number, item in enumerate(layout.switches))
    lamps = builder.set_traps()
    timers: list[Timer] = [timer for stand in stands for timer in stand.timers]
    timers += [timer for contact in builder.contacts.values() for timer in contact.timers]
    timers += [lamp.timer for lamp in lamps]
    rank_all(timers)
    spurs = {spur.id: spur for stand in stands for spur in stand.spurs}
    stand_of = {spur.id: stand for stand in stands for spur in stand.spurs}
    return Machines(builder.contacts, stands, spurs, stand_of, builder.buttons(spurs), lamps)
