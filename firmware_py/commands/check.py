"""``spurlock check``: reads a layout as ``run`` would, and says what it found."""

from __future__ import annotations

import argparse
import sys
from pathlib import Path
from typing import TYPE_CHECKING, TextIO

from firmware_py.layout.advice import advice_on
from firmware_py.layout.errors import LayoutError
from firmware_py.layout.reading import read_layout
from firmware_py.layout.silence import silent_rules
from firmware_py.layout.summary import advice, pin_list, silence, summary
from firmware_py.wiring.checks import electrical_figures, faults_of
from firmware_py.wiring.telling import fault_lines, figure_lines

if TYPE_CHECKING:
    Subparsers = argparse._SubParsersAction[argparse.ArgumentParser]

SOUND, BROKEN = 0, 2
"""Exit statuses."""

DESCRIPTION = """\
Read a layout file the way "spurlock run" does, without touching a pin.

A broken file: every mistake is printed as "file:line: what is wrong and what
would be right", and the exit status is 2.

A sound file: a summary of what stands where, the rules that can't speak
because a contact is not fitted, and advice on pins and protections. For each
spur it gives the order in which its protections come off and go back ("both"
where the two are the same); a name that begins with the spur's own is
shortened. Currents that are too large or too small are named with what to do
about them. The exit status is 0: advice is not an error.
"""

EXAMPLES = """\
examples:
  spurlock check my-layout.toml          is it sound, and what have I built?
  spurlock check my-layout.toml --pins   also list each wire with its pin
  spurlock check my-layout.toml --electrical
                                         also every resistor, current, supply and fuse
"""


def add_parser(subparsers: Subparsers) -> None:
    """Add the command to the console script's parser."""
    parser = subparsers.add_parser(
        "check",
        help="read a layout file; report errors, silent rules and advice",
        description=DESCRIPTION,
        epilog=EXAMPLES,
        formatter_class=argparse.RawDescriptionHelpFormatter,
    )
    parser.add_argument("layout", metavar="LAYOUT", type=Path, help="the layout file (TOML)")
    parser.add_argument("--pins", action="store_true", help="list every wire with its pin too")
    parser.add_argument(
        "--electrical",
        action="store_true",
        help="print every electrical figure too, with its formula and source",
    )
    parser.set_defaults(run=run)


def run(args: argparse.Namespace) -> int:
    """Run the command; the answer is the exit status."""
    return check(args.layout, sys.stdout, pins=args.pins, electrical=args.electrical)


def check(
    path: Path,
    out: TextIO,
    *,
    pins: bool = False,
    electrical: bool = False,
    err: TextIO | None = None,
) -> int:
    """Print what a layout file holds to ``out``, or its problems to ``err`` (standard error).

    The answer is 0 for a sound file, 2 for a broken one.
    """
    try:
        layout = read_layout(path)
    except LayoutError as error:
        for problem in error.problems:
            print(problem, file=err or sys.stderr)
        return BROKEN
    figures = electrical_figures(layout)
    for part in (
        summary(layout),
        silence(silent_rules(layout)),
        advice(advice_on(layout)),
        fault_lines(faults_of(figures)),
        pin_list(layout) if pins else (),
        figure_lines(figures) if electrical else (),
    ):
        for line in part:
            print(line, file=out)
    return SOUND
