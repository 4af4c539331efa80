"""Whether a thing is home by its own contacts, and in words how it stands where it is not. Pure.

A contact that is unknown or absent from ``settled`` proves nothing: its thing is not known.
"""

from __future__ import annotations

from collections.abc import Sequence
from enum import StrEnum
from typing import NamedTuple

from firmware_py.layout.model import (
    Chock,
    Contact,
    Derail,
    Flag,
    Gate,
    Lock,
    Protection,
    Spur,
    Switch,
)
from web.live.senses import Settled


class State(StrEnum):
    """A thing that is not home is out, or not known."""

    OUT = "out"
    UNKNOWN = "unknown"


class Finding(NamedTuple):
    """How something stands that is not home, and what would put it right."""

    state: State
    says: str
    mend: str


Found = Sequence[Finding]


def switch_at(switch: Switch, settled: Settled) -> Found:
    """A switch is home locked and normal; one without a lock, normal."""
    found = []
    unknown = _unknown(settled, switch.hasp, switch.normal, switch.reverse)
    if unknown:
        found.append(Finding(State.UNKNOWN, f"not known: {unknown}", "Look at the switch"))
    else:
        found.extend(_points(switch, settled))
    found.extend(_track(switch.detector, settled, "something stands on its points"))
    return found


def _points(switch: Switch, settled: Settled) -> Found:
    locked = _made(switch.hasp, settled)
    normal, reverse = _made(switch.normal, settled), _made(switch.reverse, settled)
    padlock = switch.lock is Lock.PADLOCK
    lies = {
        (True, False): "lined for the main",
        (False, True): "lined for the spur",
        (False, False): "points between their two ends",
        (True, True): "points read both ways at once",
    }[normal, reverse]
    if (normal, reverse) == (True, False):
        if locked or not padlock:
            return ()
        return (Finding(State.OUT, f"{lies}, not locked", "Lock it"),)
    if (normal, reverse) == (True, True):
        return (Finding(State.UNKNOWN, lies, "Mend its contacts"),)
    if not padlock:
        return (Finding(State.OUT, lies, "Line it for the main"),)
    if locked:
        return (Finding(State.OUT, f"{lies}, and locked so", "Unlock it and put it right"),)
    return (Finding(State.OUT, f"{lies}, not locked", "Line it for the main and lock it"),)


def spur_at(spur: Spur, settled: Settled) -> Found:
    """Cars may stay on a spur, but none foul of the main; what it has to tell must be known."""
    found = []
    if spur.detector is not None and settled.get(spur.detector.name) is None:
        says = "not known whether anything stands there"
        found.append(Finding(State.UNKNOWN, says, "Look at the track"))
    says = "something stands foul of the main, short of the clearance point"
    found.extend(_track(spur.fouling, settled, says))
    return found


def protection_at(thing: Protection, settled: Settled, detector: Contact | None) -> Found:
    """A protection is home while it is back; ``detector`` is its spur's."""
    unknown = _unknown(settled, *thing.contacts)
    if unknown:
        return (Finding(State.UNKNOWN, f"not known: {unknown}", "Look at it"),)
    match thing:
        case Flag() if _made(thing.rack, settled):
            return (Finding(State.OUT, "in its rack, not displayed", "Put it up"),)
        case Chock() if _made(thing.rack, settled):
            return _chock(detector, settled)
        case Gate():
            return _gate(thing, settled)
        case Derail():
            return _derail(thing, settled)
        case _:
            return ()


def _chock(detector: Contact | None, settled: Settled) -> Found:
    """A chock in its rack is back only while its spur is known to be clear."""
    occupied = None if detector is None else settled.get(detector.name)
    if detector is not None and occupied is False:
        return ()
    cars = "cars stand on the spur" if occupied else "nobody can tell whether the spur is clear"
    state = State.OUT if occupied or detector is None else State.UNKNOWN
    return (Finding(state, f"in its rack, not set, and {cars}", "Set it against a wheel"),)


def _gate(gate: Gate, settled: Settled) -> Found:
    shut, locked = _made(gate.shut, settled), _made(gate.hasp, settled)
    found = []
    if not shut:
        word = "locked, but not shut" if locked else "not shut"
        mend = "Shut it" if gate.hasp is None else "Shut it and lock it"
        found.append(Finding(State.OUT, word, mend))
    elif gate.hasp is not None and not locked:
        found.append(Finding(State.OUT, "shut, not locked", "Lock it"))
    found.extend(_track(gate.detector, settled, "something stands in the gate"))
    return found


def _derail(derail: Derail, settled: Settled) -> Found:
    found = []
    if not _made(derail.on, settled):
        found.append(Finding(State.OUT, "off the rail", "Put it back on the rail"))
    elif derail.hasp is not None and not _made(derail.hasp, settled):
        found.append(Finding(State.OUT, "on the rail, not locked", "Lock it"))
    found.extend(_track(derail.detector, settled, "something stands on it"))
    return found


def _track(detector: Contact | None, settled: Settled, says: str) -> Found:
    """A section of track that has to be clear; one without a detector counts as clear."""
    if detector is None:
        return ()
    occupied = settled.get(detector.name)
    if occupied is None:
        return (
            Finding(State.UNKNOWN, "not known whether its track is clear", "Look at the track"),
        )
    return (Finding(State.OUT, says, "Clear the track"),) if occupied else ()


def _made(contact: Contact | None, settled: Settled) -> bool:
    return contact is not None and settled.get(contact.name) is True


_SAYS = {
    "hasp": "whether it is locked",
    "normal": "how its points lie",
    "reverse": "how its points lie",
    "shut": "whether it is shut",
    "on": "whether it is on the rail",
    "rack": "whether it is in its rack",
    "detector": "whether its track is clear",
}


def _unknown(settled: Settled, *contacts: Contact | None) -> str:
    """What is not known of a thing, in words; empty where all of it is."""
    fitted = [one for one in contacts if one is not None]
    lost = [_SAYS[one.role.value] for one in fitted if settled.get(one.name) is None]
    return " and ".join(dict.fromkeys(lost))
