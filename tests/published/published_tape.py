"""Short tapes that can be read: written one event a line, played through the real replay.

A line is a time in seconds and what happens then::

    0   mill.detector made          a contact: made, open or unknown
    1   ask mill                    a command and its spur
    2   start-brake-test mill 5     the one command that takes a number of cars
    3   acknowledge 1               a command that takes a violation's number
    9   end                         deadlines run to here

``MILL`` is an invented industry with one of everything; its default orders are
opening: foreman, flag, switch, derail, gate, chock; closing: chock, gate, derail, foreman, flag,
switch.
"""

from __future__ import annotations

import io
import json
from typing import Any

from firmware_py.core.entries import BrakeTestEntry, Entry, OutputEntry, SpeedEntry, Violation
from firmware_py.layout.reading import parse_layout
from firmware_py.tape.reading import TapeReader
from firmware_py.tape.replay import replay

MILL = """
[layout]
name = "Millrace"
scale = "HO"
[[switch]]
id = "mill-switch"
key = "mill-key"
contacts = { hasp = "auto", normal = "auto", reverse = "auto", detector = "auto" }
lamps = { green = "auto", red = "auto", white = "auto" }
bolt = "auto"
buzzer = "auto"
[[spur]]
id = "mill"
switch = "mill-switch"
foreman = "host"
contacts = { detector = "auto", fouling = "auto" }
grade_percent = 1.0
power = "auto"
[[derail]]
id = "mill-derail"
spur = "mill"
contacts = { hasp = "auto", on = "auto", detector = "auto" }
[[gate]]
id = "mill-gate"
spur = "mill"
key = "mill-key"
contacts = { hasp = "auto", shut = "auto", detector = "auto" }
[[flag]]
id = "mill-flag"
spur = "mill"
contacts = { rack = "auto" }
lamp = "auto"
[[chock]]
id = "mill-chock"
spur = "mill"
contacts = { rack = "auto" }
[[key]]
id = "mill-key"
contacts = { hook = "auto" }
"""

OPEN = """
0   mill-flag.rack made
0   mill-key.hook open
0   mill-switch.hasp open
0   mill-switch.normal open
0   mill-switch.reverse made
0   mill-derail.hasp open
0   mill-derail.on open
0   mill-gate.hasp open
0   mill-gate.shut open
0   mill-chock.rack made
0   ask mill
0   release mill
"""
"""A spur lawfully opened before the tape begins, with the points lined for it."""

JOB = """
0   mill.detector made
1   ask mill
5   release mill
10  mill-flag.rack made
12  mill-key.hook open
15  mill-switch.hasp open
18  mill-switch.normal open
19  mill-switch.reverse made
22  mill-derail.hasp open
24  mill-derail.on open
26  mill-gate.hasp open
28  mill-gate.shut open
30  mill-chock.rack made
40  mill-switch.detector made
60  mill-switch.detector open
100 mill-chock.rack open
102 mill-gate.shut made
104 mill-gate.hasp made
106 mill-derail.on made
108 mill-derail.hasp made
110 hand-back mill
112 mill-flag.rack open
114 mill-switch.reverse open
115 mill-switch.normal made
118 mill-switch.hasp made
120 mill-key.hook made
900 end
"""
"""A whole job done in the lawful order."""

STATES: dict[str, bool | None] = {"made": True, "open": False, "unknown": None}


def play(*tape: str, layout: str = MILL) -> list[Entry]:
    """Everything that a tape (its parts in order) brings about on a layout."""
    return list(_entries("".join(part + "\n" for part in tape), layout))


def raised(*tape: str, layout: str = MILL) -> list[tuple[str, str]]:
    """The violations of a tape, each as its rule and where it was."""
    return [(v.rule.value, v.at) for v in violations(*tape, layout=layout)]


def violations(*tape: str, layout: str = MILL) -> list[Violation]:
    """The violations of a tape, whole."""
    return [entry for entry in play(*tape, layout=layout) if isinstance(entry, Violation)]


def shown(*tape: str, layout: str = MILL) -> dict[str, str]:
    """What each output that ever changed shows as the tape ends, by ``thing.output``."""
    entries = play(*tape, layout=layout)
    outputs = [entry for entry in entries if isinstance(entry, OutputEntry)]
    return {f"{entry.of}.{entry.output}": entry.shows.value for entry in outputs}


def speeds(*tape: str, layout: str) -> list[float]:
    """The scale speeds that a tape's traps read, in miles an hour, not rounded."""
    return [e.mph for e in play(*tape, layout=layout) if isinstance(e, SpeedEntry)]


def brake_tests(*tape: str, layout: str = MILL) -> list[BrakeTestEntry]:
    """What became of a tape's brake tests."""
    return [e for e in play(*tape, layout=layout) if isinstance(e, BrakeTestEntry)]


def _entries(tape: str, layout: str) -> list[Entry]:
    read = parse_layout(layout, "layout")
    lines = [json.dumps(_line(line.split())) for line in tape.splitlines() if line.strip()]
    stream = io.BytesIO("\n".join(lines).encode())
    return list(replay(read, TapeReader(read, stream, "tape")))


def _line(words: list[str]) -> dict[str, Any]:
    head: dict[str, Any] = {"t": float(words[0])}
    match words[1:]:
        case ["end"]:
            return head | {"end": True}
        case [contact, state] if "." in contact:
            return head | {"contact": contact, "made": STATES[state]}
        case ["acknowledge", number]:
            return head | {"command": "acknowledge", "violation": int(number)}
        case [command, spur]:
            return head | {"command": command, "spur": spur}
        case [command, spur, cars]:
            return head | {"command": command, "spur": spur, "cars": int(cars)}
        case _:
            raise ValueError(f"the test's tape has a line that makes no sense: {words}")
