"""How violations should stand in the log, from the tape alone."""

from __future__ import annotations

from collections.abc import Sequence

from firmware_py.core.entries import Entry, Refused, Violation
from firmware_py.core.event import Repeated
from firmware_py.core.names import Command
from firmware_py.layout.model import Layout
from firmware_py.tape.reading import TapeOrder
from firmware_py.tape.replay import Player

from .watched import Story


def standing_violations(
    layout: Layout, story: Story, until_us: int = 0
) -> dict[int, list[int | None]]:
    """How each violation stands at the end of the tape, or later: times, last, acknowledged."""
    found: dict[int, list[int | None]] = {}
    player = Player(layout, notes=True)

    def note(entries: Sequence[Entry]) -> None:
        for entry in entries:
            if isinstance(entry, Violation):
                found[entry.number] = [1, entry.t_us, None]
        for item in player.core.take_notes() if player.core else ():
            if isinstance(item, Repeated):
                found[item.number][:2] = [item.times, item.t_us]

    for told in story.tape:
        line = told.line
        entries = player.play(line)
        note(entries)
        if isinstance(line, TapeOrder) and line.order.command is Command.ACKNOWLEDGE:
            refused = any(isinstance(e, Refused) and e.t_us == line.t_us for e in entries)
            if not refused and line.order.violation in found:
                found[line.order.violation][2] = line.t_us
    note(player.finish())
    last_us = max((entry.t_us for entry in story.entries), default=until_us)
    last_us = max(last_us, until_us)
    if player.core is not None and last_us > player.core.now_us:
        note(player.core.advance(last_us))
    return found
