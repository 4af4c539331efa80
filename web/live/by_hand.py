"""Outputs that a host works by hand: a restriction, which every page shows while it lasts. Pure."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import Any

from firmware_py.core.by_hand import called, shows_says
from firmware_py.core.names import Shows
from firmware_py.logbook.records import ByHandRecord
from web.live.plan import Plan

HINTS = {
    "green": "Don't trust the lamps there.",
    "red": "Don't trust the lamps there.",
    "white": "Don't trust the lamps there.",
    "lamp": "Don't trust this lamp.",
    "bolt": "Don't go by the bolt.",
    "power": "The track may be live.",
    "buzzer": "It says nothing now.",
}
_LAMPS = frozenset({"green", "red", "white"})


def hands_view(plan: Plan, hands: Mapping[str, ByHandRecord]) -> dict[str, Any]:
    """Each output by its name, ``thing.output``: what is so, until when, and what not to trust.

    ``until_us`` is session time, ``until_wall_us`` the wall clock's, both in microseconds.
    """
    return {name: _hand(plan, one) for name, one in hands.items()}


def dark_stands(hands: Iterable[str]) -> frozenset[str]:
    """The switches whose lamps say nothing that was proven, for a hand is at one of them."""
    parted = (name.partition(".") for name in hands)
    return frozenset(of for of, _, output in parted if output in _LAMPS)


def _hand(plan: Plan, hand: ByHandRecord) -> dict[str, Any]:
    of, _, output = hand.output.partition(".")
    thing = plan.things.get(of)
    name = called(thing, output) if thing is not None and output in HINTS else hand.output
    known = hand.shows in set(Shows)
    return {
        "called": name,
        "shows": hand.shows,
        "says": shows_says(Shows(hand.shows)) if known else hand.shows,
        "hint": HINTS.get(output, ""),
        "whence": hand.whence,
        "until_us": hand.until_t_us,
        "until_wall_us": hand.until_wall_us,
    }
