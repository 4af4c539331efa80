"""``spurlock wiring``: writes a book to solder by, from a layout whose wires all have pins."""

from __future__ import annotations

import argparse
import os
import shutil
import subprocess
import sys
import tempfile
from pathlib import Path
from shlex import quote
from typing import TYPE_CHECKING, TextIO

from firmware_py.book.making import NotPlannedError, wiring_book
from firmware_py.book.style import Paper
from firmware_py.layout.errors import LayoutError, printable
from firmware_py.layout.reading import read_layout

if TYPE_CHECKING:
    Subparsers = argparse._SubParsersAction[argparse.ArgumentParser]

WRITTEN, NOT_PLANNED, REFUSED = 0, 1, 2
"""Exit statuses."""

PAGE, PRINT = "wiring.html", "wiring.pdf"
BROWSERS = ("chromium", "chromium-browser")
PRINT_S = 120
"""Seconds that printing may take on a slow machine."""

NAMED = 4
"""Wires without a pin that are named before it is said how many more there are."""

DESCRIPTION = """\
Write a book to solder by: supplies and fuses, the header and each expander
with what goes to its pins, a circuit for each kind of contact and output with
its values, a page for each stand with every wire, its colour, label and
length, and a parts list. Labels are those of "spurlock check" and of the
bench page.

The book is one HTML file, wiring.html, that needs nothing else. Where Chromium
is installed, it is printed to wiring.pdf as well. Both are made anew at each
run; the same layout gives the same HTML.

A layout with wires that read "auto" is refused: plan it first. The exit
status is 0 for a book, 1 if wires have no pin yet, and 2 for a file that
can't be read or written.
"""

EXAMPLES = """\
examples:
  spurlock wiring my-layout.toml --out book
  spurlock wiring my-layout.toml --out book --paper letter
"""


def add_parser(subparsers: Subparsers) -> None:
    """Add the command to the console script's parser."""
    parser = subparsers.add_parser(
        "wiring",
        help="write a wiring book: diagrams, circuits, wire list, parts list",
        description=DESCRIPTION,
        epilog=EXAMPLES,
        formatter_class=argparse.RawDescriptionHelpFormatter,
    )
    parser.add_argument("layout", metavar="LAYOUT", type=Path, help="the layout file (TOML)")
    parser.add_argument(
        "--out", metavar="DIR", type=Path, required=True, help="the directory to write to"
    )
    parser.add_argument(
        "--paper",
        choices=[paper.value for paper in Paper],
        default=Paper.A4.value,
        help="what it is printed on (default: a4)",
    )
    parser.set_defaults(run=run)


def run(args: argparse.Namespace) -> int:
    """Run the command; the answer is the exit status."""
    return write_book(args.layout, args.out, sys.stdout, Paper(args.paper))


def write_book(path: Path, directory: Path, out: TextIO, paper: Paper = Paper.A4) -> int:
    """Write the book of a layout file into a directory, which is made where it is missing.

    The answer is 0 for a book, 1 if wires have no pin, 2 for what can't be read or written.
    """
    try:
        layout = read_layout(path)
        book = wiring_book(layout, path.name, paper)
        directory.mkdir(parents=True, exist_ok=True)
        page = directory / PAGE
        _put(page, book.encode("utf-8"))
        print(printable(f"Wrote {page}"), file=out)
        print(printable(_print(page, directory / PRINT)), file=out)
    except LayoutError as error:
        for problem in error.problems:
            print(problem, file=sys.stderr)
        return REFUSED
    except NotPlannedError as error:
        _tell_waiting(path, error.wires)
        return NOT_PLANNED
    except OSError as error:
        where = error.filename or directory
        print(printable(f"{where}: no book is written: {error.strerror or error}"), file=sys.stderr)
        return REFUSED
    return WRITTEN


def _tell_waiting(path: Path, wires: tuple[str, ...]) -> None:
    named = ", ".join(wires[:NAMED])
    more = f" and {len(wires) - NAMED} more" if len(wires) > NAMED else ""
    are = "has" if len(wires) == 1 else "have"
    text = f"{path}: no book yet, since {named}{more} {are} no pin. Give them pins with"
    print(printable(text), file=sys.stderr)
    print(printable(f"  spurlock plan {quote(str(path))} --write"), file=sys.stderr)


def _put(path: Path, data: bytes) -> None:
    """Put a file in its place at once, so that no half of it is ever there."""
    handle, name = tempfile.mkstemp(prefix=f".{path.name}.", dir=path.parent)
    try:
        with os.fdopen(handle, "wb") as stream:
            stream.write(data)
        Path(name).chmod(0o644)
        Path(name).replace(path)
    except BaseException:
        Path(name).unlink(missing_ok=True)
        raise


def _print(page: Path, target: Path) -> str:
    """Print the page with Chromium; the answer says what came of it."""
    browser = next(filter(None, map(shutil.which, BROWSERS)), None)
    by_hand = (
        f"To print it, open {page.name} in a browser and print at 100 %, without the browser's "
        "own headers and footers."
    )
    target.unlink(missing_ok=True)  # A print of an older book must not lie beside the new one.
    if browser is None:
        return f"No PDF, since there is no Chromium here. {by_hand}"
    with tempfile.TemporaryDirectory() as scratch:
        made = Path(scratch) / PRINT
        try:
            subprocess.run(
                _command(browser, page, made, scratch),
                check=True,
                capture_output=True,
                timeout=PRINT_S,
            )
            _put(target, made.read_bytes())
        except (subprocess.SubprocessError, OSError):
            return f"No PDF, since {browser} could not print it. {by_hand}"
    return f"Wrote {target}"


def _command(browser: str, page: Path, made: Path, scratch: str) -> list[str]:
    # Chromium's sandbox does not start for root; the page is ours, and it runs nothing.
    sandbox = ["--no-sandbox"] if os.geteuid() == 0 else []
    return [
        browser,
        "--headless",
        "--disable-gpu",
        "--disable-dev-shm-usage",
        "--disable-background-networking",
        "--no-pdf-header-footer",
        f"--user-data-dir={scratch}",
        f"--print-to-pdf={made}",
        *sandbox,
        page.resolve().as_uri(),
    ]
