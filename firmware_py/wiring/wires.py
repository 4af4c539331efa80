"""The wires of a layout, sorted by stand, and what each of them asks of a place."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from enum import StrEnum

from firmware_py.layout.model import (
    Contact,
    Key,
    Kind,
    Layout,
    Output,
    Pin,
    Spur,
    Switch,
    Thing,
    Trap,
    kind_of,
    outputs_of,
)
from firmware_py.wiring.lamps import COILS, pin_ua

KEY_BOARD = "key board"
"""The stand of all keys."""


class Need(StrEnum):
    """What a wire asks of its place."""

    CONTACT = "contact"
    COIL = "coil"
    """A pin of the header that is pulled down at boot."""
    HIGH = "high"
    """Energised by a high level: on the header, a pin that is pulled down at boot."""
    LOW = "low"
    """A lamp that is lit by a low level."""
    REFUSED = "refused"
    """A bolt, track power or a buzzer that is energised by a low level; no place is right."""


@dataclass(frozen=True, slots=True)
class Wire:
    """A contact or output. ``key`` is its role or output; ``ua`` what it draws from a pin."""

    thing: str
    kind: Kind
    key: str
    stand: str
    need: Need
    pin: Pin
    ua: int = 0

    @property
    def name(self) -> str:
        """``thing.role`` for a contact, ``output of thing`` else, as everywhere in Spurlock."""
        return f"{self.thing}.{self.key}" if self.senses else f"{self.key} of {self.thing}"

    @property
    def senses(self) -> bool:
        """Whether it is a contact."""
        return self.need is Need.CONTACT

    @property
    def id(self) -> tuple[str, str]:
        """Thing and role or output; no other wire has the same."""
        return self.thing, self.key


def wires_of(layout: Layout) -> tuple[Wire, ...]:
    """Every wire, stand by stand: switches with their spurs, then the key board."""
    found = [wire for thing in layout.things for wire in _wires(layout, thing)]
    order = {stand: place for place, stand in enumerate(_stands(layout))}
    return tuple(sorted(found, key=lambda wire: order[wire.stand]))


def neighbours(layout: Layout) -> dict[str, str]:
    """For each spur's stand that of its switch, which is the next best board for its wires."""
    return {spur.id: spur.switch for spur in layout.spurs}


def _stands(layout: Layout) -> Iterator[str]:
    for switch in layout.switches:
        yield switch.id
        for spur in layout.spurs:
            if spur.switch == switch.id:
                yield spur.id
    yield KEY_BOARD


def _stand(layout: Layout, thing: Thing) -> str:
    match thing:
        case Switch() | Spur():
            return thing.id
        case Key():
            return KEY_BOARD
        case Trap():
            end = thing.second.partition(".")[0]  # The lamp is lit where trains run to.
            return _stand(layout, next(one for one in layout.things if one.id == end))
        case _:
            return thing.spur


def _wires(layout: Layout, thing: Thing) -> Iterator[Wire]:
    kind, stand = kind_of(thing), _stand(layout, thing)
    for contact in thing.contacts:
        yield _contact(contact, kind, stand)
    for key, output in outputs_of(thing):
        ua = pin_ua(key, kind, layout.wiring)
        yield Wire(thing.id, kind, key, stand, _need(key, output), output.pin, ua)


def _contact(contact: Contact, kind: Kind, stand: str) -> Wire:
    return Wire(contact.thing, kind, contact.role.value, stand, Need.CONTACT, contact.pin)


def _need(key: str, output: Output) -> Need:
    if output.inverted:
        return Need.REFUSED if key in (*COILS, "buzzer") else Need.LOW
    return Need.COIL if key in COILS else Need.HIGH
