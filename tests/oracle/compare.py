"""The core held against the oracle, line by line, on random scenes.

`python -m tests.oracle.compare FROM TO` plays the scenes FROM to TO - 1 on both and prints layout
and tape of those on which they differ, the tape shrunk first. The exit status is 1 if any did.
Every line is compared, outputs too; only the wording of `why` is the core's own.
"""

from __future__ import annotations

import io
import json
import sys
import tomllib
from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache
from typing import Any

from firmware_py.layout.model import Layout
from firmware_py.layout.reading import parse_layout
from firmware_py.tape.lines import line_of
from firmware_py.tape.reading import TapeLine, TapeReader
from firmware_py.tape.replay import replay

from . import oracle
from .layouts_at_random import layout_as_toml
from .tapes_at_random import scene_at_random

Line = dict[str, Any]

SHOWN = 3
"""So many of the scenes that differ are printed; one defect shows in many of them."""


def core_lines(toml: str, lines: Sequence[Line]) -> list[Line]:
    """What the core prints for a tape, `why` left out."""
    layout = parse_layout(toml, "layout.toml")
    printed: list[Line] = []
    try:
        for entry in replay(layout, _reader(layout, lines)):
            printed.append(_without_why(line_of(entry)))
    except Exception as error:  # Whatever a defect may raise; it is shown as a line that differs.
        printed.append({"what": "error", "error": repr(error)})
    return printed


def _reader(layout: Layout, lines: Sequence[Line]) -> TapeReader:
    text = "\n".join(json.dumps(line) for line in lines).encode()
    return TapeReader(layout, io.BytesIO(text), "tape.jsonl")


def oracle_lines(toml: str, lines: Sequence[Line]) -> list[Line]:
    """What the oracle prints for a tape, `why` left out."""
    found = oracle.replay(tomllib.loads(toml), lines, outputs=True)
    return [_without_why(line) for line in found]


def _without_why(line: Line) -> Line:
    return {key: value for key, value in line.items() if key != "why"}


def differs(toml: str, lines: Sequence[Line]) -> bool:
    """Whether core and oracle print different lines."""
    return core_lines(toml, lines) != oracle_lines(toml, lines)


def shrunk(toml: str, lines: list[Line]) -> list[Line]:
    """Drop lines, many at a time first and then one by one, while the rest still differs."""
    size = max(len(lines) // 2, 1)
    while size:
        place = 0
        while place < len(lines):
            rest = lines[:place] + lines[place + size :]
            if differs(toml, rest):
                lines = rest
            else:
                place += size
        size //= 2
    return lines


def report(toml: str, lines: list[Line]) -> str:
    """Layout, shrunk tape, and from where on the two disagree."""
    lines = shrunk(toml, lines)
    core, ours = core_lines(toml, lines), oracle_lines(toml, lines)
    same = 0
    while core[same : same + 1] and core[same : same + 1] == ours[same : same + 1]:
        same += 1
    tape = "\n".join(json.dumps(line) for line in lines)
    return (
        f"{toml}\n{tape}\n\nafter {same} equal lines\n"
        + "".join(f"  core:   {json.dumps(line)}\n" for line in core[same : same + 6])
        + "".join(f"  oracle: {json.dumps(line)}\n" for line in ours[same : same + 6])
    )


@dataclass(frozen=True)
class Scene:
    """A random scene, read, with what the oracle prints for it.

    The core alone has to be run again to compare it again, which is quick: that matters where
    the same scenes are played on hundreds of spoilt cores (mutation testing).
    """

    toml: str
    lines: list[Line]
    layout: Layout
    tape: list[TapeLine]
    expected: list[Line]


@lru_cache(maxsize=600)
def scene(seed: int) -> Scene:
    """The scene of a seed."""
    table, lines = scene_at_random(seed)
    toml = layout_as_toml(table)
    layout = parse_layout(toml, "layout.toml")
    tape = list(_reader(layout, lines))
    return Scene(toml, lines, layout, tape, oracle_lines(toml, lines))


def difference(seed: int) -> str | None:
    """How core and oracle differ on the scene of a seed, or `None` where they agree."""
    found = scene(seed)
    if agrees(found):
        return None
    return f"seed {seed}\n{report(found.toml, found.lines)}"


def agrees(found: Scene) -> bool:
    """Whether the core prints what the oracle does; the one question that is quick to ask."""
    try:
        printed = [_without_why(line_of(entry)) for entry in replay(found.layout, found.tape)]
    except Exception:  # Whatever a defect may raise.
        return False
    return printed == found.expected


def main(arguments: list[str]) -> int:
    """Compare the scenes of a range of seeds."""
    if len(arguments) != 2 or not all(argument.isdecimal() for argument in arguments):
        print("usage: python -m tests.oracle.compare FROM TO", file=sys.stderr)
        return 2
    bad = 0
    seeds = range(int(arguments[0]), int(arguments[1]))
    for seed in seeds:
        found = difference(seed)
        if found is not None:
            bad += 1
            if bad <= SHOWN:
                print(found)
    print(f"{bad} of {len(seeds)} scenes differ")
    return 1 if bad else 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
