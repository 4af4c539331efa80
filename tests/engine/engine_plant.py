"""A whole plant on simulated pins, in a thread of its own, and its log read beside it."""

from __future__ import annotations

import json
import threading
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from io import BytesIO
from pathlib import Path

from firmware_py.engine.assembly import Plant, Settings
from firmware_py.layout.reading import parse_layout
from firmware_py.logbook.reading import Reader
from firmware_py.logbook.records import EntryRecord, SessionRecord
from firmware_py.logbook.tapes import tape_lines
from firmware_py.tape.lines import line_of
from firmware_py.tape.reading import TapeReader
from firmware_py.tape.replay import replay

GENEROUS_S = 60.0
"""Nothing takes so long; what is waited for longer never comes."""


def until(what: Callable[[], object]) -> None:
    """Wait until something is so."""
    end_s = time.monotonic() + GENEROUS_S
    while not what():
        assert time.monotonic() < end_s, "it never came to pass"
        time.sleep(0.02)


def plant_of(layout_file: Path, *, minutes: float | None = None) -> Plant:
    """A plant whose logbook lies beside its layout file."""
    logbook = str(layout_file.with_name("logbook.sqlite"))
    return Plant(Settings(layout_file, logbook, simulated=True, seed=11, minutes=minutes))


@contextmanager
def running(plant: Plant, *, ends: bool = True) -> Iterator[Plant]:
    """A plant in a thread of its own; at the end its session ends too, or waits."""
    thread = threading.Thread(target=plant.run, name="engine", daemon=True)
    thread.start()
    try:
        assert plant.began.wait(GENEROUS_S)
        yield plant
    finally:
        (plant.end_session if ends else plant.stop)()
        thread.join(GENEROUS_S)
    assert not thread.is_alive()


def all_entries(reader: Reader, session: int) -> list[EntryRecord]:
    """Every entry of a session, however many there are."""
    entries: list[EntryRecord] = []
    while batch := reader.entries(session, entries[-1].id if entries else 0, 5_000):
        entries += batch
    return entries


def replays(reader: Reader, session: SessionRecord) -> None:
    """Rulebook section 10: its saved tape gives exactly the entries that it logged."""
    tape = [json.dumps(line) for line in tape_lines(reader.engine, session.id)]
    layout = parse_layout(session.layout_toml, "the session's layout")
    lines = TapeReader(layout, BytesIO("\n".join(tape).encode()), "the session's tape")
    replayed = [line_of(entry) for entry in replay(layout, lines)]
    assert replayed == [entry.line for entry in all_entries(reader, session.id)]
