"""``spurlock rolls``: what a car's roll test means for every spur of a layout."""

from __future__ import annotations

import argparse
import sys
from collections.abc import Iterator
from pathlib import Path
from typing import TYPE_CHECKING

from firmware_py.dynamics.rolling import (
    Runaway,
    from_ramp,
    from_steady_grade,
    from_two_speeds,
)
from firmware_py.dynamics.scale_speed import scale_mph
from firmware_py.dynamics.securing import Siding, standing
from firmware_py.dynamics.sound import UnsoundError
from firmware_py.layout.errors import LayoutError
from firmware_py.layout.model import Layout
from firmware_py.layout.reading import read_layout

if TYPE_CHECKING:
    Subparsers = argparse._SubParsersAction[argparse.ArgumentParser]

JUDGED, UNREADABLE = 0, 2

DESCRIPTION = """\
Measure the car that rolls most easily, in one of three ways, and see for every
spur whether it stands there, how fast it would be at the clearance point, and
how many chocks the spur needs. Lengths are millimetres.

  --tilt RISE RUN       a board tilted until a nudged car keeps an even speed
  --ramp HEIGHT WAY     a ramp let down to level track: its height, and the
                        whole way to rest, measured level
  --speeds V1 V2 APART  two speeds on level track in mm/s; V2 is 0 at rest

The exit status is 2 with one line where something can't be read or worked out.
"""

EXAMPLES = """\
examples:
  spurlock rolls my-layout.toml --tilt 12 1000
  spurlock rolls my-layout.toml --ramp 9 900 --way 600 --cuts 2
"""


def add_parser(subparsers: Subparsers) -> None:
    """Add the command to the console script's parser."""
    parser = subparsers.add_parser(
        "rolls",
        help="judge which spurs need chocks, by a car's roll test",
        description=DESCRIPTION,
        epilog=EXAMPLES,
        formatter_class=argparse.RawDescriptionHelpFormatter,
    )
    parser.add_argument("layout", metavar="LAYOUT", type=Path, help="the layout file (TOML)")
    ways = parser.add_mutually_exclusive_group(required=True)
    ways.add_argument("--tilt", nargs=2, type=float, metavar=("RISE", "RUN"))
    ways.add_argument("--ramp", nargs=2, type=float, metavar=("HEIGHT", "WAY"))
    ways.add_argument("--speeds", nargs=3, type=float, metavar=("V1", "V2", "APART"))
    parser.add_argument(
        "--way",
        type=float,
        default=900.0,
        metavar="MM",
        help="from where the cars stand to the clearance point (default: 900)",
    )
    parser.add_argument(
        "--cuts", type=int, default=1, metavar="N", help="groups of cars that stand apart"
    )
    parser.set_defaults(run=run)


def run(args: argparse.Namespace) -> int:
    """Read, judge, print."""
    try:
        layout = read_layout(args.layout)
        lines = list(judged(layout, resistance_of(args), args.way, args.cuts))
    except (LayoutError, UnsoundError) as wrong:
        print(wrong, file=sys.stderr)
        return UNREADABLE
    for line in lines:
        print(line)
    return JUDGED


def resistance_of(args: argparse.Namespace) -> float:
    """The rolling resistance that the words tell. Raises ``UnsoundError``."""
    if args.tilt:
        return from_steady_grade(*args.tilt)
    return from_ramp(*args.ramp) if args.ramp else from_two_speeds(*args.speeds)


def judged(layout: Layout, resistance: float, way: float, cuts: int) -> Iterator[str]:
    """Each spur in lines."""
    yield f"this car keeps rolling from {100 * resistance:.2f} % on"
    for spur in layout.spurs:
        siding = Siding(spur.grade_percent, way, layout.ratio, layout.chock_from_percent, cuts)
        found = standing(siding, resistance)
        fitted = sum(chock.spur == spur.id for chock in layout.chocks)
        needs = f"needs {found.chocks}, has {fitted}" if found.chocks else "needs no chock"
        few = "  TOO FEW" if fitted < found.chocks else ""
        yield f"{spur.id}: {spur.grade_percent:g} %, {needs}{few}"
        yield f"  let go:  {_becomes(found.let_go, layout.ratio)}"
        yield f"  nudged:  {_becomes(found.nudged, layout.ratio)}"
        yield f"  because: {found.why}"


def _becomes(away: Runaway | None, ratio: float) -> str:
    if away is None or (away.stops and not away.rolled_mm):
        return "stands"
    if away.stops:
        return f"stops after {away.rolled_mm:.0f} mm"
    return f"{scale_mph(away.mm_per_s, 1, ratio):.0f} scale mph at the clearance point"
