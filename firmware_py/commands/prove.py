"""``spurlock prove``: every state that a layout can reach, looked at."""

from __future__ import annotations

import argparse
import json
import sys
import time
from collections.abc import Iterator
from pathlib import Path
from textwrap import wrap
from typing import TYPE_CHECKING

from firmware_py.layout.errors import LayoutError
from firmware_py.layout.reading import read_layout
from firmware_py.proof.keeping import verdict_path
from firmware_py.proof.properties import PROPERTIES
from firmware_py.proof.proving import Proof, Refuted, proofs
from firmware_py.proof.verdict import Verdict, longest_of, save

if TYPE_CHECKING:
    Subparsers = argparse._SubParsersAction[argparse.ArgumentParser]

PROVEN, REFUTED, UNREADABLE = 0, 1, 2

DESCRIPTION = """\
Look at every state that the rules' own code can reach for a layout, with hands,
trains, foremen, faults and deadlines free to do anything at any time, and prove
seven properties of it. Whatever is false is shown with the shortest tape found,
which "spurlock replay" plays.

The exit status is 0 for a layout that is proven, 1 for one that is not, and 2
where the layout can't be read.
"""

EXAMPLES = """\
examples:
  spurlock prove my-layout.toml
  spurlock prove my-layout.toml --tapes folder    keep the tapes of what is false
  spurlock prove my-layout.toml --explain         what is proven, and after which rules
"""


def add_parser(subparsers: Subparsers) -> None:
    """Add the command to the console script's parser."""
    parser = subparsers.add_parser(
        "prove",
        help="prove that no sequence of events makes a layout show safe when it is not",
        description=DESCRIPTION,
        epilog=EXAMPLES,
        formatter_class=argparse.RawDescriptionHelpFormatter,
    )
    parser.add_argument("layout", metavar="LAYOUT", type=Path, help="the layout file (TOML)")
    parser.add_argument("--tapes", metavar="FOLDER", type=Path, help="write each tape to a file")
    parser.add_argument("--explain", action="store_true", help="say what each property means")
    parser.add_argument("--workers", metavar="N", type=int, default=2, help="processes (2)")
    parser.add_argument(
        "--each", action="store_true", help="prove switches that are alike one by one too"
    )
    parser.add_argument(
        "--logbook",
        metavar="FILE",
        help="keep the verdict for the board beside this logbook (LAYOUT's name, ending .sqlite)",
    )
    parser.set_defaults(run=run)


def run(args: argparse.Namespace) -> int:
    """Run the command; the answer is the exit status."""
    began = time.monotonic()
    try:
        layout = read_layout(args.layout)
    except LayoutError as error:
        print(error, file=sys.stderr)
        return UNREADABLE
    if args.explain:
        print("\n".join(explained()))
    done: list[Proof] = []
    for proof in proofs(layout, workers=args.workers, alike=not args.each):
        print(line_of(proof), flush=True)
        done.append(proof)
    for line in _refuted_lines(done, args.tapes):
        print(line)
    for line in way_lines(done):
        print(line)
    for line in summary(done, time.monotonic() - began):
        print(line)
    logbook = args.logbook or str(args.layout.with_suffix(".sqlite"))
    save(verdict_path(logbook), Verdict.of(layout, done))
    return REFUTED if any(proof.refuted for proof in done) else PROVEN


def explained() -> Iterator[str]:
    """Every property in words, with its sources."""
    for it in PROPERTIES:
        yield f"{it.number}. {it.name} ({', '.join(it.sources)})"
        yield from wrap(it.says, 79, initial_indent="   ", subsequent_indent="   ")


def line_of(proof: Proof) -> str:
    """One line for one switch."""
    if proof.like is not None:
        return f"{proof.switch}: as {proof.like}, which differs in nothing but names"
    what = "proven" if not proof.refuted else f"{len(proof.refuted)} things are false"
    states = f"{proof.states} states in parts, {proof.stands_for:.2g} together"
    way = f"way back in at most {proof.longest_way} moves"
    return f"{proof.switch}: {what}; {states}, {proof.looked_at} cases; {way}"


def way_lines(done: list[Proof]) -> Iterator[str]:
    """The longest way back of all: how everything stands, and what hands do then."""
    way = longest_of(done)
    if way is None:
        return
    yield f"the longest way back takes {len(way.moves)} moves; it begins so:"
    yield from (f"      {sentence}" for sentence in way.begins)
    yield "and goes on:"
    yield from (f"  {number:>2}. {sentence}" for number, sentence in enumerate(way.moves, 1))


def summary(done: list[Proof], seconds: float) -> Iterator[str]:
    """What was proven of the whole, property by property."""
    false = {item.number for proof in done for item in proof.refuted}
    for it in PROPERTIES:
        yield f"{'NOT' if it.number in false else 'yes':>5}  {it.number}. {it.name}"
    yield f"{len(done)} switches in {seconds:.1f} s"


def _refuted_lines(done: list[Proof], folder: Path | None) -> Iterator[str]:
    for proof in done:
        for number, item in enumerate(proof.refuted, 1):
            yield f"property {item.number}: {item.what}"
            yield from _tape_lines(item, folder, f"{proof.switch}-{number}.jsonl")


def _tape_lines(item: Refuted, folder: Path | None, name: str) -> Iterator[str]:
    if not item.tape:
        yield "  (no tape was found that shows it; it may be out of reach, and is not proven)"
        return
    rows = [json.dumps(row) for row in item.tape]
    if folder is None:
        yield from (f"  {row}" for row in rows)
        return
    folder.mkdir(parents=True, exist_ok=True)
    (folder / name).write_text("\n".join(rows) + "\n", encoding="utf-8")
    yield f"  spurlock replay LAYOUT {folder / name}"
