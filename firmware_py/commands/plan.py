"""``spurlock plan``: gives every wire that reads "auto" a pin, and checks the currents."""

from __future__ import annotations

import argparse
import os
import shutil
import sys
import tempfile
from dataclasses import replace
from pathlib import Path
from shlex import quote
from typing import TYPE_CHECKING, TextIO

from firmware_py.layout.electrics import PiModel
from firmware_py.layout.errors import LayoutError, printable
from firmware_py.layout.model import Layout
from firmware_py.layout.reading import parse_layout, read_layout
from firmware_py.wiring.boards import Expanders
from firmware_py.wiring.checks import electrical_figures
from firmware_py.wiring.planning import Plan, plan_for
from firmware_py.wiring.putting import PutError, with_plan
from firmware_py.wiring.telling import figure_lines, plan_lines

if TYPE_CHECKING:
    Subparsers = argparse._SubParsersAction[argparse.ArgumentParser]

PLANNED, NO_PLAN, REFUSED = 0, 1, 2
"""Exit statuses."""

DESCRIPTION = """\
Give every contact and output whose pin is "auto" a place: pins of the Pi's
header first, by what they do at power-on, then lines of expander chips. Wires
that have a pin keep it, so a plan can be made again after something was added
and nothing that is soldered moves. Bolts and track power stay on the header.

The plan is printed with every current, resistor, supply and fuse, each with
its formula and source. What had to be assumed is named, and can be given in
the layout's [wiring] table. Nothing is written without --write; with it the
pins are put into the file, every other character of it stays as it was, and
the file as it was is kept beside it with .bak at the end of its name.

The exit status is 0 for a plan, 1 if there is none (with the reasons), and 2
for a file that can't be read or written.
"""

EXAMPLES = """\
examples:
  spurlock plan my-layout.toml                   show what would go where
  spurlock plan my-layout.toml --write           and put it into the file
  spurlock plan my-layout.toml --expanders none  the header alone
  spurlock plan my-layout.toml --model 5         figures for a Pi 5
"""


def add_parser(subparsers: Subparsers) -> None:
    """Add the command to the console script's parser."""
    parser = subparsers.add_parser(
        "plan",
        help="give every wire a pin, and check currents, resistors and supplies",
        description=DESCRIPTION,
        epilog=EXAMPLES,
        formatter_class=argparse.RawDescriptionHelpFormatter,
    )
    parser.add_argument("layout", metavar="LAYOUT", type=Path, help="the layout file (TOML)")
    parser.add_argument("--write", action="store_true", help="write the pins into the file")
    parser.add_argument(
        "--expanders",
        choices=[kind.value for kind in Expanders],
        default=Expanders.I2C.value,
        help="chips that may be added: none, MCP23017 (i2c, the default), MCP23S17 (spi)",
    )
    parser.add_argument(
        "--model",
        choices=[model.value for model in PiModel],
        help="the Raspberry Pi that the figures are for (default: the layout's, or 4)",
    )
    parser.set_defaults(run=run)


def run(args: argparse.Namespace) -> int:
    """Run the command; the answer is the exit status."""
    model = PiModel(args.model) if args.model else None
    return plan(args.layout, sys.stdout, Expanders(args.expanders), model, write=args.write)


def plan(
    path: Path,
    out: TextIO,
    expanders: Expanders = Expanders.I2C,
    model: PiModel | None = None,
    *,
    write: bool = False,
) -> int:
    """Plan a layout file and print the plan; ``write`` puts it into the file.

    The answer is 0 for a plan, 1 for none, 2 for a file that can't be read or written.
    """
    try:
        layout = read_layout(path)
        made = plan_for(layout, expanders)
        for line in plan_lines(layout, made):
            print(line, file=out)
        if made.reasons:
            return NO_PLAN
        # Bytes, since the ends of lines must stay as they are.
        data = path.read_bytes()
        text = with_plan(data.decode("utf-8"), str(path), made)
        _tell_figures(parse_layout(text, str(path)), model, out)
        print(printable(_outcome(path, made, data, text, write)), file=out)
    except LayoutError as error:
        for problem in error.problems:
            print(problem, file=sys.stderr)
        return REFUSED
    except (OSError, PutError, UnicodeError) as error:
        reason = getattr(error, "strerror", None) or error
        print(printable(f"{path}: nothing is changed: {reason}"), file=sys.stderr)
        return REFUSED
    return PLANNED


def _tell_figures(layout: Layout, model: PiModel | None, out: TextIO) -> None:
    if model is not None:
        layout = replace(layout, wiring=replace(layout.wiring, pi=model))
    print(file=out)
    for line in figure_lines(electrical_figures(layout)):
        print(line, file=out)
    print(file=out)


def _outcome(path: Path, made: Plan, before: bytes, text: str, write: bool) -> str:
    if not made.placed:
        return "Every wire has a pin already; there is nothing to write."
    if not write:
        return f"Nothing is written. To write it: spurlock plan {quote(str(path))} --write"
    kept = _write(path.resolve(), before, text.encode("utf-8"))
    return f"Wrote {path}; the file as it was is {kept}."


def _write(path: Path, before: bytes, after: bytes) -> Path:
    """Put the new file in the old one's place at once, and keep the old one."""
    kept = path.with_name(f"{path.name}.bak")
    handle, name = tempfile.mkstemp(prefix=f".{path.name}.", dir=path.parent)
    try:
        with os.fdopen(handle, "wb") as stream:
            stream.write(after)
            stream.flush()
            os.fsync(stream.fileno())
        shutil.copymode(path, name)
        _see_unchanged(path, before)
        shutil.copy2(path, kept)
        Path(name).replace(path)
    except BaseException:
        Path(name).unlink(missing_ok=True)
        raise
    return kept


def _see_unchanged(path: Path, before: bytes) -> None:
    """Refuse to write over what an editor saved since the file was read."""
    if path.read_bytes() != before:
        raise PutError("the file was changed meanwhile; plan it anew")
