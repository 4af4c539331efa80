"""The topics of a club. Pure.

A box writes only under ``from/NAME`` and reads only under ``to/NAME``, where its name is the
user name that the broker has checked: two lines in the broker's access list hold for all boxes.
"""

from __future__ import annotations

from enum import StrEnum

ROOT = "spurlock/v1"


class Said(StrEnum):
    """What a box says: ``from/NAME/...``. The first three are retained."""

    HEALTH = "health"
    SESSION = "session"
    STANDING = "standing"
    LOG = "log"
    ANSWER = "answer"


class Told(StrEnum):
    """What a board tells a box: ``to/NAME/...``."""

    ASK = "ask"
    FETCH = "fetch"


RETAINED = frozenset({Said.HEALTH, Said.SESSION, Said.STANDING})
EVERYTHING_SAID = f"{ROOT}/from/#"


def said(node: str, what: Said, board: str | None = None) -> str:
    """The topic of what a box says: to all boards, or to the one that has asked for it."""
    topic = f"{ROOT}/from/{node}/{what}"
    return topic if board is None else f"{topic}/{board}"


def told(node: str, what: Told) -> str:
    """The topic of what a board tells a box."""
    return f"{ROOT}/to/{node}/{what}"


def everything_told(node: str) -> str:
    """What a box subscribes to."""
    return f"{ROOT}/to/{node}/+"


def read_said(topic: str) -> tuple[str, Said, str | None] | None:
    """Who says what, and to which board alone; ``None`` for a topic that is none of ours."""
    parts = topic.split("/")
    if parts[:3] != [*ROOT.split("/"), "from"] or not 5 <= len(parts) <= 6:
        return None
    if parts[4] not in set(Said) or not parts[3]:
        return None
    return parts[3], Said(parts[4]), parts[5] if len(parts) == 6 else None


def read_told(topic: str, node: str) -> Told | None:
    """What a board tells this box; ``None`` for a topic that is none of ours."""
    head, _, last = topic.rpartition("/")
    return Told(last) if head == f"{ROOT}/to/{node}" and last in set(Told) else None
