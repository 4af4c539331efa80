"""What stands where: the layout as frozen records, after it was read and found sound.

Everything else in Spurlock is told about the layout through these records and nothing else.
Times are whole microseconds (names end in ``_us``), grades are per cent, distances are
millimetres, pin numbers are BCM numbers.
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum

from firmware_py.layout.electrics import NOT_SAID, Chip, Wiring
from firmware_py.layout.node import Node

FOREMAN = "foreman"
"""How the foreman stands in ``opening`` and ``closing`` and in a violation's ``missing``."""


class Kind(StrEnum):
    """The kinds of thing that a layout is made of."""

    SWITCH = "switch"
    SPUR = "spur"
    GATE = "gate"
    DERAIL = "derail"
    FLAG = "flag"
    CHOCK = "chock"
    KEY = "key"
    TRAP = "trap"


class Role(StrEnum):
    """What a contact senses; rulebook section 1 says what *made* means for each."""

    HASP = "hasp"
    NORMAL = "normal"
    REVERSE = "reverse"
    DETECTOR = "detector"
    BUTTON = "button"
    FOULING = "fouling"
    SHUT = "shut"
    ON = "on"
    RACK = "rack"
    HOOK = "hook"


MADE_AT_REST = frozenset({Role.HASP, Role.NORMAL, Role.SHUT, Role.ON, Role.HOOK})
"""The roles whose contacts are made while a spur is at rest; all others are open."""


class Lock(StrEnum):
    """What keeps a switch from being thrown."""

    PADLOCK = "padlock"
    NONE = "none"


class ForemanKind(StrEnum):
    """Who answers when a crew asks for a spur."""

    HOST = "host"
    AUTO = "auto"
    NONE = "none"


@dataclass(frozen=True, slots=True)
class HeaderPin:
    """A GPIO of the Pi's own header."""

    bcm: int


@dataclass(frozen=True, slots=True)
class ChipLine:
    """A line of another GPIO chip, written ``"chip:line"`` in the layout file."""

    chip: str
    line: int


Pin = HeaderPin | ChipLine | None
"""Where a wire ends; ``None`` is the layout file's ``"auto"``: no pin yet."""


@dataclass(frozen=True, slots=True)
class Contact:
    """A two-state input.

    ``settle_us`` is how long it must hold a new value to be believed; ``clear_us`` is the same
    for the change from made to open, and differs from it only for a detector.
    ``inverted`` says that the circuit is closed when the contact is *not* made.
    """

    thing: str
    role: Role
    pin: Pin
    settle_us: int
    clear_us: int
    inverted: bool = False

    @property
    def name(self) -> str:
        """``thing.role``, as on tapes and in the log."""
        return f"{self.thing}.{self.role}"


@dataclass(frozen=True, slots=True)
class Output:
    """One driven wire; ``inverted`` says that it is energised by a low level."""

    pin: Pin
    inverted: bool = False


@dataclass(frozen=True, slots=True)
class Lamps:
    """The lamps of a switch stand, each of them optional."""

    green: Output | None = None
    red: Output | None = None
    white: Output | None = None


@dataclass(frozen=True, slots=True)
class Switch:
    """A switch with its padlock. ``hasp`` is ``None`` only where ``lock`` is ``none``."""

    id: str
    name: str
    lock: Lock
    key: str | None
    hasp: Contact | None
    normal: Contact
    reverse: Contact
    detector: Contact | None = None
    button: Contact | None = None
    lamps: Lamps = Lamps()
    bolt: Output | None = None
    buzzer: Output | None = None

    @property
    def contacts(self) -> tuple[Contact, ...]:
        """The contacts that are fitted, in the rulebook's order."""
        return _fitted(self.hasp, self.normal, self.reverse, self.detector, self.button)


@dataclass(frozen=True, slots=True)
class Spur:
    """An industry's track. ``opening`` and ``closing`` are filled in, never empty.

    ``foreman_us`` is the range of an automatic foreman's answer.
    """

    id: str
    name: str
    switch: str
    foreman: ForemanKind
    foreman_us: tuple[int, int]
    opening: tuple[str, ...]
    closing: tuple[str, ...]
    detector: Contact | None = None
    fouling: Contact | None = None
    grade_percent: float = 0.0
    power: Output | None = None

    @property
    def contacts(self) -> tuple[Contact, ...]:
        """The contacts that are fitted."""
        return _fitted(self.detector, self.fouling)


@dataclass(frozen=True, slots=True)
class Gate:
    """A gate across a spur. ``behind`` is the gate that must be open before hands reach it."""

    id: str
    name: str
    spur: str
    key: str | None
    hasp: Contact | None
    shut: Contact
    detector: Contact | None = None
    lamp: Output | None = None
    behind: str | None = None

    @property
    def contacts(self) -> tuple[Contact, ...]:
        """The contacts that are fitted."""
        return _fitted(self.hasp, self.shut, self.detector)


@dataclass(frozen=True, slots=True)
class Derail:
    """A derail on a spur."""

    id: str
    name: str
    spur: str
    hasp: Contact | None
    on: Contact
    detector: Contact | None = None
    lamp: Output | None = None
    behind: str | None = None

    @property
    def contacts(self) -> tuple[Contact, ...]:
        """The contacts that are fitted."""
        return _fitted(self.hasp, self.on, self.detector)


@dataclass(frozen=True, slots=True)
class Flag:
    """A blue flag and its rack."""

    id: str
    name: str
    spur: str
    rack: Contact
    lamp: Output | None = None
    behind: str | None = None

    @property
    def contacts(self) -> tuple[Contact, ...]:
        """The contacts that are fitted."""
        return (self.rack,)


@dataclass(frozen=True, slots=True)
class Chock:
    """A wheel chock and its rack."""

    id: str
    name: str
    spur: str
    rack: Contact
    lamp: Output | None = None
    behind: str | None = None

    @property
    def contacts(self) -> tuple[Contact, ...]:
        """The contacts that are fitted."""
        return (self.rack,)


@dataclass(frozen=True, slots=True)
class Key:
    """A key with its hook at the key board."""

    id: str
    name: str
    hook: Contact
    behind: str | None = None

    @property
    def contacts(self) -> tuple[Contact, ...]:
        """The contacts that are fitted."""
        return (self.hook,)


@dataclass(frozen=True, slots=True)
class Trap:
    """Two detectors ``distance_mm`` apart; ``limit_mph`` is in scale miles per hour.

    ``lamp`` is a lineside lamp that tells whoever has just passed too fast. ``in_kmh`` says that
    the file gives the limit in scale kilometres, so speeds here are told in them.
    """

    id: str
    name: str
    first: str
    second: str
    distance_mm: float
    limit_mph: float | None = None
    lamp: Output | None = None
    in_kmh: bool = False

    @property
    def contacts(self) -> tuple[Contact, ...]:
        """None of its own: a trap reads the detectors of other things."""
        return ()


@dataclass(frozen=True, slots=True)
class Times:
    """The layout's ``[times]``, in microseconds."""

    settle_us: int = 20_000
    clear_after_us: int = 2_000_000
    throw_us: int = 5_000_000
    restore_within_us: int = 600_000_000
    relock_within_us: int = 120_000_000
    return_within_us: int = 120_000_000
    repeat_within_us: int = 10_000_000


Protection = Gate | Derail | Flag | Chock
Thing = Switch | Spur | Protection | Key | Trap


@dataclass(frozen=True, slots=True)
class Layout:
    """A whole layout; each kind of thing is in file order.

    ``wait_scale`` is how many times as long as ``clock_ratio`` and ``foreman_us`` say paced waits
    are: what the pace dial sets for a session.
    """

    name: str
    ratio: float
    scale: str | None
    chock_from_percent: float
    clock_ratio: float
    times: Times
    switches: tuple[Switch, ...]
    spurs: tuple[Spur, ...]
    gates: tuple[Gate, ...] = ()
    derails: tuple[Derail, ...] = ()
    flags: tuple[Flag, ...] = ()
    chocks: tuple[Chock, ...] = ()
    keys: tuple[Key, ...] = ()
    traps: tuple[Trap, ...] = ()
    chips: tuple[Chip, ...] = ()
    wiring: Wiring = NOT_SAID
    node: Node | None = None
    wait_scale: float = 1.0

    @property
    def wait_ratio(self) -> float:
        """A prototype's minutes of a paced wait for each real one: the clock's, as dialled."""
        return self.clock_ratio / self.wait_scale

    @property
    def things(self) -> tuple[Thing, ...]:
        """Every thing, kind by kind."""
        return (
            *self.switches,
            *self.spurs,
            *self.gates,
            *self.derails,
            *self.flags,
            *self.chocks,
            *self.keys,
            *self.traps,
        )

    @property
    def contacts(self) -> tuple[Contact, ...]:
        """Every contact of every thing."""
        return tuple(contact for thing in self.things for contact in thing.contacts)


def kind_of(thing: Thing) -> Kind:
    """The kind a thing belongs to."""
    return Kind(type(thing).__name__.lower())


def outputs_of(thing: Thing) -> tuple[tuple[str, Output], ...]:
    """The driven wires of a thing as ``(output, wire)``; output is green, lamp, bolt and so on."""
    wires: tuple[tuple[str, Output | None], ...] = ()
    match thing:
        case Switch():
            lamps = thing.lamps
            wires = (
                ("green", lamps.green),
                ("red", lamps.red),
                ("white", lamps.white),
                ("bolt", thing.bolt),
                ("buzzer", thing.buzzer),
            )
        case Spur():
            wires = (("power", thing.power),)
        case Gate() | Derail() | Flag() | Chock() | Trap():
            wires = (("lamp", thing.lamp),)
        case _:
            pass
    return tuple((output, wire) for output, wire in wires if wire is not None)


def _fitted(*contacts: Contact | None) -> tuple[Contact, ...]:
    return tuple(contact for contact in contacts if contact is not None)
