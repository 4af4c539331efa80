"""What contacts mean in words: for each role, and for each protection as a whole."""

from __future__ import annotations

from collections.abc import Mapping
from typing import NamedTuple

from firmware_py.layout.model import Chock, Contact, Derail, Flag, Gate, Kind, Protection, Role

UNKNOWN = "unknown"
_WORDS: dict[Role, tuple[str, str]] = {
    Role.HASP: ("locked", "not locked"),
    Role.NORMAL: ("over for the main", "not over for the main"),
    Role.REVERSE: ("over for the spur", "not over for the spur"),
    Role.DETECTOR: ("occupied", "clear"),
    Role.BUTTON: ("pressed", "not pressed"),
    Role.FOULING: ("occupied: foul of the main", "clear"),
    Role.SHUT: ("shut across the track", "not shut"),
    Role.ON: ("on the rail, derailing", "not on the rail"),
    Role.HOOK: ("key on its hook", "key out"),
}
_RACKS = {
    Kind.FLAG: ("in its rack, not displayed", "out of its rack: displayed"),
    Kind.CHOCK: ("in its rack, not set", "out of its rack: set"),
}

Settled = Mapping[str, bool | None]
"""The believed value of every contact by name; ``None`` or absent is unknown."""


class Sense(NamedTuple):
    """How a protection stands: ``state`` is ``on`` (it protects), ``off`` or ``unknown``."""

    state: str
    says: str


def contact_says(role: Role, kind: Kind | None, settled: bool | None) -> str:
    """What a contact's settled value means; unknown is said as such, never as safe."""
    if settled is None:
        return "unknown: treat as unsafe"
    words = _RACKS.get(kind) if role is Role.RACK and kind else _WORDS.get(role)
    made, broken = words or ("made", "open")
    return made if settled else broken


def sense(thing: Protection, settled: Settled) -> Sense:
    """How a protection stands by its own contacts."""
    match thing:
        case Flag():
            return _rack(thing.rack, settled, "displayed")
        case Chock():
            return _rack(thing.rack, settled, "set")
        case Gate():
            return _locked(thing.shut, thing.hasp, settled, ("shut", "open"))
        case Derail():
            return _locked(thing.on, thing.hasp, settled, ("on", "off"))


def _rack(rack: Contact, settled: Settled, protecting: str) -> Sense:
    racked = settled.get(rack.name)
    if racked is None:
        return Sense("unknown", UNKNOWN)
    return Sense("off", "in its rack") if racked else Sense("on", protecting)


def _locked(
    place: Contact, hasp: Contact | None, settled: Settled, words: tuple[str, str]
) -> Sense:
    home = settled.get(place.name)
    locked = settled.get(hasp.name) if hasp else False
    if home is None or locked is None:
        return Sense("unknown", UNKNOWN)
    state, word = ("on", words[0]) if home else ("off", words[1])
    if hasp is None:
        return Sense(state, word)
    if home:
        return Sense(state, f"{word}, locked" if locked else f"{word}, not locked")
    return Sense(state, f"locked while {word}" if locked else word)
