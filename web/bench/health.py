"""How a contact fares, in a word and a sentence: for whoever looks for a wire that is not right."""

from __future__ import annotations

from collections.abc import Collection
from typing import NamedTuple

from firmware_py.layout.model import Contact
from firmware_py.logbook.records import StandingRecord


class Health(NamedTuple):
    """``state`` is ``fine``, ``lost``, ``chattering``, ``settling`` or ``unknown``."""

    state: str
    says: str


UNKNOWN = Health("unknown", "not known: the engine does not answer")
LOST = Health("lost", "lost: look at its cable, its supply and its chip")
CHATTERING = Health("chattering", "chattering: look for a loose wire or a dirty contact")
SETTLING = Health("settling", "settling: not believed yet")
FINE = Health("fine", "fine")


def health_of(
    contact: Contact, now: StandingRecord | None, faults: Collection[str], *, live: bool
) -> Health:
    """The worst that is so; ``faults`` are the words of the contact's open faults."""
    if not live or now is None:
        return UNKNOWN
    if now.raw is None or "lost" in faults:
        return LOST
    if "chattering" in faults:
        return CHATTERING
    return FINE if now.settled is now.raw else SETTLING
