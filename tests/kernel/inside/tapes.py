"""The sample tapes, made ready to be played by hand on pretended lines.

Several copies of the tapes' layout stand side by side on one engine, each named after its tape, so
that all tapes play at once. What has to pass in minutes passes ``pace`` times as fast, in the
layout as on the tape; settle times stay as they are.
"""

from __future__ import annotations

import json
import re
import time
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import msgspec

from firmware_py.core.names import Command
from firmware_py.core.orders import Order

TAPES = Path(__file__).parents[2] / "tapes"
LAYOUT = (TAPES / "quarry-landing.toml").read_text(encoding="utf-8")
LINES_OF_A_COPY = 12
LEAST_GAP_S = 0.025
"""Two edges keep at least so far apart, or as far as on the tape: a late hand swallows none."""
AFTER_LAST_S = 1.0
TIMING = ("t", "mph", "seconds")
"""What depends on how fast the tape is played, and on how exactly this machine can do it."""

Line = dict[str, Any]


@dataclass(frozen=True, slots=True)
class Sample:
    """A tape whose things are called after it: lines in, and the entries that must come out."""

    name: str
    lines: tuple[Line, ...]
    expected: tuple[Line, ...]

    @property
    def standing(self) -> dict[str, bool]:
        """The contacts that stand otherwise than at rest as it begins."""
        return {x["contact"]: x["made"] for x in self.lines if x["t"] == 0 and "contact" in x}

    @property
    def steps(self) -> tuple[Line, ...]:
        """What is to be done after that."""
        return tuple(x for x in self.lines if "end" not in x and not (x["t"] == 0 and "made" in x))

    @property
    def ends_s(self) -> float:
        """When the last thing that is expected has happened, in the tape's seconds."""
        return float(max(x["t"] for x in (*self.steps, *self.expected)))


def sample(name: str) -> Sample:
    """Read one, its things renamed."""
    texts = (TAPES / f"{name}.jsonl", TAPES / "expected" / f"{name}.jsonl")
    lines, expected = (
        tuple(json.loads(line) for line in _renamed(text.read_text(), name).splitlines())
        for text in texts
    )
    return Sample(name, lines, expected)


def layout_of(samples: Sequence[Sample], chip: str, pace: float) -> str:
    """One layout with a copy for each tape, on the lines of one chip."""
    times = {"clear_after": 2.0, "throw": 5.0, "restore_within": 600.0, "relock_within": 120.0}
    times |= {"return_within": 120.0, "repeat_within": 10.0}
    text = f"[layout]\nname = 'Tapes'\nscale = 'HO'\nclock_ratio = {6 * pace}\n[times]\n"
    text += "".join(f"{name} = {seconds / pace}\n" for name, seconds in times.items())
    for place, one in enumerate(samples):
        text += _copy(one.name, chip, place * LINES_OF_A_COPY, pace)
    return text


def _copy(name: str, chip: str, first: int, pace: float) -> str:
    body = _renamed(LAYOUT[LAYOUT.index("[[switch]]") :], name)
    body = body.replace('id = "approach"', f'id = "{name}-approach"')
    body = body.replace("distance_mm = 305.0", f"distance_mm = {305.0 / pace}")
    lines = iter(range(first, first + LINES_OF_A_COPY))
    # Within the braces of "contacts" stand BCM numbers, and nowhere else in this layout.
    return re.sub(r"= (\d+)(?=[ ,}])", lambda _: f'= "{chip}:{next(lines)}"', body)


def _renamed(text: str, name: str) -> str:
    return text.replace("kiln", name).replace('"at": "approach"', f'"at": "{name}-approach"')


class Player:
    """Plays one tape by hand. ``move`` pulls a contact, ``obey`` gives an order."""

    def __init__(
        self,
        one: Sample,
        pace: float,
        move: Callable[[str, bool], None],
        obey: Callable[[Order], None],
        number: Callable[[int], int],
    ) -> None:
        self._one = one
        self._pace = pace
        self._move = move
        self._obey = obey
        self._number = number

    def play(self) -> None:
        """Play it; ends a little after the last thing that is expected."""
        began = last = time.monotonic()
        before = 0.0
        for step in self._one.steps:
            gap = (step["t"] - before) / self._pace
            before = step["t"]
            due = began + step["t"] / self._pace
            _sleep_until(max(due, last + min(gap, LEAST_GAP_S)))
            last = time.monotonic()
            if "contact" in step:
                self._move(step["contact"], step["made"])
            else:
                self._obey(self._order(step))
        _sleep_until(began + self._one.ends_s / self._pace + AFTER_LAST_S)

    def _order(self, step: Line) -> Order:
        asked = {key: step[key] for key in ("spur", "violation", "cars") if key in step}
        if "violation" in asked:
            asked["violation"] = self._number(asked["violation"])
        return Order(Command(step["command"]), **asked)


def _sleep_until(at_s: float) -> None:
    time.sleep(max(0.0, at_s - time.monotonic()))


def of_copy(name: str, entries: Iterable[Line]) -> list[Line]:
    """The entries that concern one copy."""
    keys = ("switch", "spur", "at")
    return [e for e in entries if any(str(e.get(key) or "").startswith(name) for key in keys)]


def without_times(entries: Iterable[Line]) -> list[Line]:
    """Entries as they are compared: violations numbered within their own copy, no times."""
    out: list[Line] = []
    violations = 0
    for entry in entries:
        kept = {key: value for key, value in entry.items() if key not in TIMING}
        if entry["what"] == "violation":
            violations += 1
            kept["number"] = violations
        out.append(msgspec.to_builtins(kept))
    return out
