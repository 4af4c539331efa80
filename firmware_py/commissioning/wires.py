"""The wires of a layout in the order in which a builder meets them, and what they are called."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from firmware_py.commissioning.model import Wire
from firmware_py.layout.model import (
    Chock,
    Contact,
    Derail,
    Flag,
    Gate,
    Key,
    Layout,
    Output,
    Role,
    Spur,
    Switch,
    Thing,
    Trap,
    kind_of,
    outputs_of,
)
from firmware_py.layout.wires import pin_name

KEY_BOARD = "key board"
"""The stand of all keys."""

_MOVES: dict[Role, tuple[str, str]] = {
    Role.HASP: ("Close the hasp of the {name} and lock it.", "Now open the hasp of the {name}."),
    Role.NORMAL: (
        "Throw the points of the {name} fully over for the main.",
        "Now set the points of the {name} in the middle, over for neither.",
    ),
    Role.REVERSE: (
        "Throw the points of the {name} fully over for the spur.",
        "Now set the points of the {name} in the middle, over for neither.",
    ),
    Role.DETECTOR: (
        "Put a car on the detector of the {name}.",
        "Now take the car off the detector of the {name}.",
    ),
    Role.FOULING: (
        "Put a car foul of the main at the {name}.",
        "Now take the car away from the fouling point of the {name}.",
    ),
    Role.BUTTON: ("Press the button of the {name} and hold it.", "Now let the button go."),
    Role.SHUT: ("Shut the {name} across the track.", "Now open the {name}."),
    Role.ON: ("Put the {name} on the rail.", "Now take the {name} off the rail."),
    Role.RACK: ("Put the {name} into its rack.", "Now take the {name} out of its rack."),
    Role.HOOK: ("Hang the {name} on its hook.", "Now take the {name} off its hook."),
}
_LOOKS = {
    "bolt": "Is the bolt of the {name} drawn?",
    "power": "Is the track power of the {name} on?",
    "buzzer": "Does the buzzer of the {name} sound?",
    "lamp": "Is the lamp of the {name} lit?",
}


@dataclass(frozen=True, slots=True)
class Wires:
    """The contacts and outputs of a layout, each by name and in order, and what they are asked."""

    contacts: dict[str, Wire]
    outputs: dict[str, Wire]
    moves: dict[str, tuple[str, str]]
    looks: dict[str, str]
    drives: dict[str, tuple[str, str]]
    settles: dict[str, int]
    apart: dict[str, str]
    """Contacts that can't be made at once: ``normal`` and ``reverse`` of the same points."""

    def at(self, stand: str) -> tuple[str, ...]:
        """The names of all wires of a stand, or of one thing."""
        every = (*self.contacts.values(), *self.outputs.values())
        return tuple(wire.name for wire in every if stand in (wire.stand, wire.thing))

    @property
    def stands(self) -> tuple[str, ...]:
        """The stands, in order."""
        every = (*self.contacts.values(), *self.outputs.values())
        return tuple(dict.fromkeys(wire.stand for wire in every))


def wires_of(layout: Layout) -> Wires:
    """Every wire of a layout, stand by stand."""
    things = list(_things(layout))
    contacts = [(thing, stand, one) for thing, stand in things for one in thing.contacts]
    outputs = [(thing, stand, *pair) for thing, stand in things for pair in outputs_of(thing)]
    return Wires(
        {one.name: _contact(one, stand) for _, stand, one in contacts},
        {
            output_name(thing.id, key): _output(thing, stand, key, output)
            for thing, stand, key, output in outputs
        },
        {one.name: _moves(thing, one) for thing, _, one in contacts},
        {output_name(thing.id, key): _look(thing, key) for thing, _, key, _ in outputs},
        {output_name(thing.id, key): (thing.id, key) for thing, _, key, _ in outputs},
        {one.name: one.settle_us for _, _, one in contacts},
        {
            one: other
            for switch in layout.switches
            for one, other in (
                (switch.normal.name, switch.reverse.name),
                (switch.reverse.name, switch.normal.name),
            )
        },
    )


def output_name(thing: str, key: str) -> str:
    """An output as it is called everywhere: ``red of kiln-switch``."""
    return f"{key} of {thing}"


def _things(layout: Layout) -> Iterator[tuple[Thing, str]]:
    """Each thing with its stand: a switch, then the spurs behind it with what protects them."""
    led = {spur.id: spur.switch for spur in layout.spurs}
    for switch in layout.switches:
        yield switch, switch.id
        for thing in layout.things:
            match thing:
                case Switch() | Key() | Trap():
                    continue
                case Spur():
                    if thing.switch == switch.id:
                        yield thing, switch.id
                case _:
                    if led[thing.spur] == switch.id:
                        yield thing, switch.id
    for key in layout.keys:
        yield key, KEY_BOARD
    for trap in layout.traps:
        end = trap.second.partition(".")[0]
        at = next(thing for thing in layout.things if thing.id == end)
        yield trap, _stand_of(at, led)


def _stand_of(thing: Thing, led: dict[str, str]) -> str:
    """The switch at which a thing with a detector stands."""
    match thing:
        case Switch():
            return thing.id
        case Spur():
            return thing.switch
        case Gate() | Derail() | Flag() | Chock():
            return led[thing.spur]
        case _:
            return KEY_BOARD


def _contact(contact: Contact, stand: str) -> Wire:
    pin = pin_name(contact.pin)
    placed = contact.pin is not None
    return Wire(contact.name, contact.thing, stand, contact.inverted, pin, placed)


def _output(thing: Thing, stand: str, key: str, output: Output) -> Wire:
    name = output_name(thing.id, key)
    pin, placed = pin_name(output.pin), output.pin is not None
    return Wire(name, thing.id, stand, output.inverted, pin, placed)


def _called(thing: Thing) -> str:
    """The thing's name as it stands in a sentence, with its kind where the name lacks it.

    A name that the builder gave is left as he wrote it; one made of the id loses its capital.
    """
    kind = kind_of(thing).value
    plain = thing.id.replace("-", " ")
    name = plain if thing.name.lower() == plain else thing.name
    said = name.lower().replace("-", " ").split()
    return name if kind in said else f"{name} {kind}"


def _moves(thing: Thing, contact: Contact) -> tuple[str, str]:
    made, broken = _MOVES[contact.role]
    return made.format(name=_called(thing)), broken.format(name=_called(thing))


def _look(thing: Thing, key: str) -> str:
    asked = _LOOKS.get(key, f"Is the {key} lamp of the {{name}} lit?")
    return asked.format(name=_called(thing))
