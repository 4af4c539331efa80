"""A small layout whose sessions are opened and closed, and the asking for it."""

from __future__ import annotations

import time

from engine_plant import until

from firmware_py.engine.assembly import Plant
from firmware_py.logbook.reading import Reader
from firmware_py.logbook.records import EntryRecord, RequestRecord, SessionRecord
from firmware_py.logbook.requests import leave_session

LAYOUT = """
[layout]
name = "Slate Basin"
scale = "HO"

[times]
settle = 0.004
clear_after = 0.6
throw = 0.05

[[switch]]
id = "mill-switch"
lock = "padlock"
contacts = { hasp = 5, normal = 6, reverse = 13, detector = 19 }
lamps = { green = 20, red = 21, white = 16 }

[[spur]]
id = "mill"
switch = "mill-switch"
foreman = "auto"
foreman_seconds = [0.3, 0.3]
contacts = { detector = 26 }

[[flag]]
id = "mill-flag"
spur = "mill"
contacts = { rack = 24 }
"""


def wall_us() -> int:
    return time.time_ns() // 1_000


def turn(reader: Reader, command: str) -> RequestRecord:
    """Ask for a session to be opened or closed, and give the answer."""
    left = leave_session(reader.engine, command, wall_us())
    until(lambda: reader.request(left).answered_wall_us)
    return reader.request(left)


def opened(reader: Reader) -> None:
    assert turn(reader, "open").accepted


def closed(reader: Reader) -> None:
    assert turn(reader, "close").accepted


def newest(reader: Reader) -> SessionRecord:
    session = reader.session()
    assert session is not None
    return session


def entries(reader: Reader, session: int, *kinds: str) -> list[EntryRecord]:
    return reader.entries(session, limit=100_000, kinds=kinds or None)


def settled(plant: Plant, contact: str, made: bool | None) -> None:
    def is_so() -> bool:
        core = plant.engine.core
        return core is not None and core.settled()[contact] is made

    until(is_so)
