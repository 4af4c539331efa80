"""A session's saved tape, played through the core: what the log should say."""

from __future__ import annotations

import json
from collections.abc import Mapping
from dataclasses import dataclass
from io import BytesIO
from pathlib import Path

from firmware_py.core.core import Core
from firmware_py.core.entries import Entry, Refused
from firmware_py.core.event import Repeated, Settled
from firmware_py.core.names import Command
from firmware_py.layout.model import MADE_AT_REST
from firmware_py.layout.reading import parse_layout
from firmware_py.logbook.opening import logbook_url, open_engine
from firmware_py.logbook.tapes import tape_lines
from firmware_py.tape.lines import text_of
from firmware_py.tape.reading import RawReading, TapeOrder, TapeReader
from firmware_py.tape.replay import Player


@dataclass(frozen=True)
class Played:
    """What a tape gives.

    ``lines`` are its entries as JSON text, ``end_us`` the tape's end in session time,
    ``settled_at`` when each contact last settled, ``last_read`` the last contact read, with the
    level that it had before, ``times`` how often each repeated violation came, and
    ``acknowledged`` those that someone has acknowledged.
    """

    entries: tuple[Entry, ...]
    lines: tuple[str, ...]
    core: Core
    end_us: int
    settled_at: Mapping[str, int]
    last_read: tuple[str, bool | None] | None
    times: Mapping[int, int]
    acknowledged: frozenset[int]


def play(path: Path, session: int, layout_toml: str) -> Played:
    """Save a session's tape as a user would, read it back, and play it."""
    database = open_engine(logbook_url(str(path)))
    try:
        saved = [json.dumps(line) for line in tape_lines(database, session)]
    finally:
        database.dispose()
    layout = parse_layout(layout_toml, "the session's layout")
    player = Player(layout, notes=True)
    entries: list[Entry] = []
    settled_at: dict[str, int] = {}
    times: dict[int, int] = {}
    acknowledged: set[int] = set()
    raw: dict[str, bool | None] = {c.name: c.role in MADE_AT_REST for c in layout.contacts}
    last_read: tuple[str, bool | None] | None = None
    end_us = 0

    def take_notes() -> None:
        for note in player.core.take_notes() if player.core else ():
            if isinstance(note, Settled):
                settled_at[note.contact] = note.t_us
            elif isinstance(note, Repeated):
                times[note.number] = note.times

    for line in TapeReader(layout, BytesIO("\n".join(saved).encode()), "the saved tape"):
        found = player.play(line)
        take_notes()
        entries += found
        end_us = line.t_us
        if isinstance(line, RawReading):
            last_read = line.contact, raw.get(line.contact)
            raw[line.contact] = line.made
        elif isinstance(line, TapeOrder) and line.order.command is Command.ACKNOWLEDGE:
            refused = any(isinstance(e, Refused) and e.t_us == line.t_us for e in found)
            if not refused and line.order.violation:
                acknowledged.add(line.order.violation)
    entries += player.finish()
    take_notes()
    assert player.core is not None, "a finished tape has begun"
    return Played(
        tuple(entries),
        tuple(text_of(entry) for entry in entries),
        player.core,
        end_us,
        settled_at,
        last_read,
        times,
        frozenset(acknowledged),
    )
