"""Coming back: the session that a stop has cut off goes on where its log ends.

The core is rebuilt by playing the session's own tape, so that phases, deadlines, violations and
all else stand as they did. Time without an engine, and without anything in the log, does not
count: no deadline is shortened by a stop. Then the contacts are compared with what the core last
believed. One that has moved meanwhile becomes unknown and settles anew, so that no crew is blamed
for what nobody saw (rulebook section 7).
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from firmware_py.core.core import Core
from firmware_py.core.entries import Entry
from firmware_py.core.names import Command
from firmware_py.core.orders import Order
from firmware_py.layout.model import Layout, Role
from firmware_py.tape.reading import End, RawReading, TapeLine, TapeOrder
from firmware_py.tape.replay import Player

LONGEST_GAP_US = 8 * 3600 * 1_000_000
"""A session that was last heard of longer ago than this was another evening's."""

_WORDS: Mapping[Role, tuple[str, str]] = {
    Role.HASP: ("locked", "open"),
    Role.NORMAL: ("over for the main", "not over for the main"),
    Role.REVERSE: ("over for the spur", "not over for the spur"),
    Role.DETECTOR: ("occupied", "clear"),
    Role.FOULING: ("foul", "clear"),
    Role.BUTTON: ("pressed", "not pressed"),
    Role.SHUT: ("shut", "open"),
    Role.ON: ("on the rail", "off the rail"),
    Role.RACK: ("in its rack", "out of its rack"),
    Role.HOOK: ("on its hook", "off its hook"),
}


@dataclass(frozen=True, slots=True)
class Earlier:
    """A session to go on with: its tape, as the logbook gives it, and how much it has logged."""

    session: int
    tape: Iterable[Mapping[str, Any]]
    entries_logged: int
    opened: bool = True
    wait_scale: float = 1.0


@dataclass(frozen=True, slots=True)
class Rebuilt:
    """The core as it stood, and what it had said that never reached the log."""

    core: Core
    unlogged: Sequence[Entry]


def may_resume(last_wall_us: int, now_wall_us: int) -> bool:
    """Whether a session last heard of at ``last_wall_us`` is still this evening's.

    A wall clock that stands before it has lost its time: that is no reason to forget a session.
    """
    return now_wall_us - last_wall_us <= LONGEST_GAP_US


def rebuild(layout: Layout, earlier: Earlier) -> Rebuilt:
    """Play the earlier session's tape to its end."""
    player = Player(layout, notes=True)
    said: list[Entry] = []
    heard = 0
    for line in tape_of(earlier.tape):
        said += player.play(line)
        if player.core is not None:
            player.core.take_notes()
        # Only what was not logged is kept: an evening is long, and this machine is small.
        surplus = min(len(said), max(0, earlier.entries_logged - heard))
        heard += surplus
        del said[:surplus]
    said += player.finish()
    del said[: max(0, earlier.entries_logged - heard)]
    assert player.core is not None, "a finished tape has begun"
    return Rebuilt(player.core, said)


def tape_of(lines: Iterable[Mapping[str, Any]]) -> Iterator[TapeLine]:
    """The logbook's lines as the tape's own."""
    for line in lines:
        t_us = round(line["t"] * 1_000_000)
        if "contact" in line:
            yield RawReading(t_us, line["contact"], line["made"])
        elif "command" in line:
            about = (line.get("spur"), line.get("violation"), line.get("cars"))
            yield TapeOrder(t_us, Order(Command(line["command"]), *about))
        else:
            yield End(t_us)


def differences(
    believed: Mapping[str, bool | None], levels: Mapping[str, bool | None]
) -> Iterator[tuple[str, bool | None]]:
    """The contacts that no longer stand as the core believed, with how they stand now."""
    for name, level in levels.items():
        if level is not believed[name]:
            yield name, level


def found(layout: Layout, contact: str, was: bool | None, now: bool | None) -> str:
    """What was found changed, in words for the log."""
    thing, _, role = contact.partition(".")
    name = next(item.name for item in layout.things if item.id == thing)
    if role in (Role.NORMAL, Role.REVERSE):
        name = f"{name}: points"
    return f"{name} found {_word(role, now)}; {_word(role, was)} when the engine last saw it."


def _word(role: str, made: bool | None) -> str:
    if made is None:
        return "unknown"
    return _WORDS[Role(role)][0 if made else 1]
