"""What a job must be: its texts and counts by themselves, and its ids on the layout at hand."""

from __future__ import annotations

import unicodedata
from collections.abc import Iterator, Sequence
from typing import NamedTuple

import msgspec

from firmware_py.layout.errors import shown
from firmware_py.layout.lines import Path
from firmware_py.layout.model import Layout
from firmware_py.layout.tables import suggestion
from firmware_py.logbook.screen.jobs import Car, Job, JobStop

MOST_JOBS = 200
MOST_CARS = 500
MOST_STOPS = 40
MOST_KEYS = 100
MOST_CARS_AT_A_STOP = 60
LONGEST_LINE = 120
LONGEST_NOTE = 2_000
REARS = ("", "marker", "caboose")

_UNSHOWN = {"Cc", "Cs", "Zl", "Zp"}
_TURNING = frozenset("\u061c\u200e\u200f\u202a\u202b\u202c\u202d\u202e\u2066\u2067\u2068\u2069")
"""Marks that turn the direction of what follows them, with which a text can look like another."""


class Wrong(NamedTuple):
    """One thing that is wrong with a job: where, in the keys of its file, and what, in words."""

    path: Path
    what: str


def tidy(job: Job) -> Job:
    """The job without blanks at the ends of its texts, and with one kind of blank and break."""
    stops = tuple(
        msgspec.structs.replace(
            stop,
            spur=_trim(stop.spur),
            pull=_tidy_cars(stop.pull),
            spot=_tidy_cars(stop.spot),
            note=_trim(stop.note.replace("\r\n", "\n").replace("\r", "\n")),
        )
        for stop in job.stops
    )
    return msgspec.structs.replace(
        job,
        name=_trim(job.name),
        crew=_trim(job.crew),
        keys=tuple(_trim(key) for key in job.keys),
        stops=stops,
    )


def ill_formed(job: Job) -> list[Wrong]:
    """What is wrong with a tidy job whatever the layout: its texts, counts and lengths."""
    found = [
        *_line(("name",), "name", job.name, needed=True),
        *_line(("crew",), "crew", job.crew),
        *_at_most(("keys",), "keys", job.keys, MOST_KEYS),
        *_at_most(("stop",), "stops", job.stops, MOST_STOPS),
    ]
    if not 0 <= job.cars <= MOST_CARS:
        found.append(
            Wrong(("cars",), f"cars must be a number from 0 to {MOST_CARS}, not {shown(job.cars)}")
        )
    if job.rear not in REARS:
        what = f'rear must be "marker" or "caboose", or left out, not {shown(job.rear)}'
        found.append(Wrong(("rear",), what))
    if not job.stops:
        found.append(Wrong((), "a job needs at least one stop: a spur to work"))
    for at, stop in enumerate(job.stops):
        found += _ill_formed_stop(at, stop)
    return found


def strangers(job: Job, layout: Layout) -> list[Wrong]:
    """The spurs and keys that a job names and the layout does not have, or has once only."""
    found: list[Wrong] = []
    spurs = [spur.id for spur in layout.spurs]
    keys = [key.id for key in layout.keys]
    for at, stop in enumerate(job.stops):
        if not stop.spur:
            found.append(Wrong(("stop", at, "spur"), f"stop {at + 1}: choose a spur"))
        elif stop.spur not in spurs:
            what = f"stop {at + 1}: there is no spur {shown(stop.spur)} on this layout"
            found.append(Wrong(("stop", at, "spur"), f"{what}; {suggestion(stop.spur, spurs)}"))
    for at, key in enumerate(job.keys):
        if key not in keys:
            what = f"keys: there is no key {shown(key)} on this layout"
            found.append(Wrong(("keys", at), f"{what}; {suggestion(key, keys)}"))
        elif key in job.keys[:at]:
            found.append(Wrong(("keys", at), f"keys: {shown(key)} is named twice; name it once"))
    return found


def _tidy_cars(cars: Sequence[Car]) -> tuple[Car, ...]:
    return tuple(Car(_trim(car.car), _trim(car.place)) for car in cars)


def _trim(text: str) -> str:
    return text.replace("\t", " ").strip()  # What is copied from a table has tabs in it.


def _ill_formed_stop(at: int, stop: JobStop) -> Iterator[Wrong]:
    label = f"stop {at + 1}"
    for key, cars in (("pull", stop.pull), ("spot", stop.spot)):
        path: Path = ("stop", at, key)
        yield from _at_most(path, f"{label}: {key}", cars, MOST_CARS_AT_A_STOP)
        for place, car in enumerate(cars):
            called = f"{label}: {key}: car {place + 1}"
            yield from _line((*path, place), called, car.car, needed=True)
            yield from _line((*path, place), f"{called}: place", car.place)
    if len(stop.note) > LONGEST_NOTE:
        what = f"{label}: note has {len(stop.note)} characters; at most {LONGEST_NOTE} fit"
        yield Wrong(("stop", at, "note"), what)
    elif not can_be_shown(stop.note.replace("\n", "")):
        yield Wrong(("stop", at, "note"), f"{label}: note has characters that can't be shown")


def _line(path: Path, label: str, text: str, *, needed: bool = False) -> Iterator[Wrong]:
    if needed and not text:
        yield Wrong(path, f"{label} is blank; write a few words")
    elif len(text) > LONGEST_LINE:
        what = f"{label} has {len(text)} characters; at most {LONGEST_LINE} fit on its line"
        yield Wrong(path, what)
    elif not can_be_shown(text):
        yield Wrong(path, f"{label} must be a text that can be shown on one line")


def _at_most(path: Path, label: str, things: Sequence[object], most: int) -> Iterator[Wrong]:
    if len(things) > most:
        yield Wrong(path, f"{label}: there are {len(things)}; at most {most} fit a job")


def can_be_shown(text: str) -> bool:
    """Whether a line has no mark that nobody sees, and none that turns it about."""
    return not any(unicodedata.category(one) in _UNSHOWN or one in _TURNING for one in text)
