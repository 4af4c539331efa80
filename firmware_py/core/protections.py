"""A spur's protections: when each is *off* and when it is *back* (rulebook section 6).

With them stand the rules that belong to one of them alone.

An unknown contact is neither: nothing that is not known counts as off or as back.
"""

from __future__ import annotations

from abc import ABC, abstractmethod
from typing import Protocol

from firmware_py.core.contacts import Contact, made
from firmware_py.core.event import Event
from firmware_py.core.names import Foreman, Points, Rule, Stage
from firmware_py.core.switch import Switch
from firmware_py.layout.model import FOREMAN


class Warden(Protocol):
    """The spur that is told when one of its protections moves."""

    id: str

    def came_off(self, protection: Protection) -> None:
        """A protection came off."""

    def went_back(self, protection: Protection) -> None:
        """A protection went back."""

    def stirred(self) -> None:
        """Something changed that is neither, such as a gate that was shut but not locked."""


class Protection(ABC):
    """What all protections share.

    ``step`` is how it stands in orders and in ``missing``; ``at`` is what its violations are
    raised at.
    """

    __slots__ = ("_event", "_spur", "at", "faults", "step")

    def __init__(self, event: Event, spur: Warden, ident: str) -> None:
        self._event = event
        self._spur = spur
        self.step = self.at = ident
        self.faults = 0

    @abstractmethod
    def is_off(self) -> bool:
        """Whether it is out of the crew's way."""

    @abstractmethod
    def is_back(self) -> bool:
        """Whether it protects again."""

    def _own(self, *contacts: Contact | None) -> None:
        for contact in contacts:
            if contact is not None:
                contact.home = self
                contact.lose = self._lost

    def _lost(self, contact: Contact) -> None:
        self._spur.stirred()

    def _breach(self, rule: Rule) -> None:
        self._event.breach(rule, self.at, self._spur.id)


class ForemanProtection(Protection):
    """The industry's foreman, who must release the spur before anything else."""

    __slots__ = ("says",)

    def __init__(self, event: Event, spur: Warden) -> None:
        super().__init__(event, spur, FOREMAN)
        self.at = spur.id
        self.says = Foreman.NOT_ASKED

    def is_off(self) -> bool:
        """Whether he has released the spur."""
        return self.says is Foreman.RELEASED

    def is_back(self) -> bool:
        """Whether the spur is his again."""
        return self.says is not Foreman.RELEASED


class SwitchProtection(Protection):
    """The spur's own switch."""

    __slots__ = ("_switch",)

    def __init__(self, event: Event, spur: Warden, switch: Switch) -> None:
        super().__init__(event, spur, switch.id)
        self._switch = switch

    def is_off(self) -> bool:
        """Whether it is lined for the spur and not locked."""
        return self._switch.points is Points.REVERSE and not made(self._switch.hasp)

    def is_back(self) -> bool:
        """Whether it is secured; a stage that is only kept over unknown points is a guess."""
        switch = self._switch
        return switch.stage is Stage.SECURED and switch.points is not Points.UNKNOWN


class RackProtection(Protection):
    """A blue flag: in its rack it is off, out of it it is displayed, wherever it may be."""

    __slots__ = ("_rack",)

    def __init__(self, event: Event, spur: Warden, ident: str, rack: Contact) -> None:
        super().__init__(event, spur, ident)
        self._rack = rack
        self._own(rack)
        rack.react = self._rack_settled

    def _rack_settled(self, contact: Contact, in_rack: bool) -> None:
        if in_rack:
            self._spur.came_off(self)
        else:
            self._spur.went_back(self)

    def is_off(self) -> bool:
        """Whether it is known to be in its rack."""
        return self._rack.settled is True

    def is_out(self) -> bool:
        """Whether it is known to be out of its rack: displayed, or set."""
        return self._rack.settled is False

    def is_back(self) -> bool:
        """Whether it is out of its rack."""
        return self.is_out()


class ChockProtection(RackProtection):
    """A wheel chock: on an empty spur there is no wheel to set it against."""

    __slots__ = ("_detector",)

    def __init__(
        self, event: Event, spur: Warden, ident: str, rack: Contact, detector: Contact | None
    ) -> None:
        super().__init__(event, spur, ident, rack)
        self._detector = detector

    def is_back(self) -> bool:
        """Whether it is set, or is in its rack while the spur's detector says clear."""
        if self._rack.settled is not True:
            return self._rack.settled is False
        detector = self._detector
        return detector is not None and detector.settled is False


class BarProtection(Protection):
    """A gate or derail: a bar on the rail, in place or not, with or without a padlock."""

    __slots__ = ("_hasp", "_in_place")
    forced: Rule
    run_over: Rule

    def __init__(
        self, event: Event, spur: Warden, ident: str, in_place: Contact, hasp: Contact | None
    ) -> None:
        super().__init__(event, spur, ident)
        self._in_place = in_place
        self._hasp = hasp
        self._own(in_place, hasp)
        in_place.react = self._bar_settled
        if hasp is not None:
            hasp.react = self._hasp_settled

    def watch(self, detector: Contact) -> None:
        """Watch the track at the bar."""
        detector.home = self
        detector.react = self._detector_settled

    def _bar_settled(self, contact: Contact, in_place: bool) -> None:
        if not in_place and made(self._hasp):
            self._breach(self.forced)

    def _hasp_settled(self, contact: Contact, locked: bool) -> None:
        self._spur.stirred()

    def _detector_settled(self, contact: Contact, occupied: bool) -> None:
        if occupied and made(self._in_place):
            self._breach(self.run_over)

    def is_off(self) -> bool:
        """Whether the bar is known to be off the rail."""
        return self._in_place.settled is False


class DerailProtection(BarProtection):
    """A derail. Its lock keeps it where it is; the order asks only whether it is on."""

    __slots__ = ()
    forced = Rule.DERAIL_FORCED
    run_over = Rule.OVER_DERAIL

    def _bar_settled(self, contact: Contact, in_place: bool) -> None:
        super()._bar_settled(contact, in_place)
        if in_place:
            self._spur.went_back(self)
        else:
            self._spur.came_off(self)

    def is_back(self) -> bool:
        """Whether it is on."""
        return self._in_place.settled is True


class GateProtection(BarProtection):
    """A gate. With a padlock it comes off as that is opened, and is back once it is locked."""

    __slots__ = ("hook",)
    forced = Rule.GATE_FORCED
    run_over = Rule.THROUGH_GATE

    def __init__(
        self, event: Event, spur: Warden, ident: str, in_place: Contact, hasp: Contact | None
    ) -> None:
        super().__init__(event, spur, ident, in_place, hasp)
        self.hook: Contact | None = None

    def _bar_settled(self, contact: Contact, in_place: bool) -> None:
        super()._bar_settled(contact, in_place)
        if self._hasp is not None:
            self._spur.stirred()
        elif in_place:
            self._spur.went_back(self)
        else:
            self._spur.came_off(self)

    def _hasp_settled(self, contact: Contact, locked: bool) -> None:
        self._spur.stirred()
        if not locked:
            if made(self.hook):
                self._breach(Rule.KEY_ON_HOOK)
            self._spur.came_off(self)
        elif self._in_place.settled is True:
            self._spur.went_back(self)
        elif self._in_place.settled is False:
            self._breach(Rule.GATE_LOCKED_OPEN)

    def is_back(self) -> bool:
        """Whether it is shut, and locked where it has a padlock."""
        return self._in_place.settled is True and (self._hasp is None or self._hasp.settled is True)
