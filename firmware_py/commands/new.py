"""``spurlock new``: asks a few plain questions and writes a layout file to start from."""

from __future__ import annotations

import argparse
import sys
from collections.abc import Callable
from pathlib import Path
from shlex import quote
from typing import TYPE_CHECKING, TextIO, TypeVar

from firmware_py.layout.errors import printable, shown
from firmware_py.layout.model import ForemanKind
from firmware_py.layout.reading import parse_layout
from firmware_py.layout.scales import DEFAULT, RATIOS, nearest
from firmware_py.layout.tables import suggestion
from firmware_py.layout.writing import Answers, SpurAnswers, layout_text

if TYPE_CHECKING:
    Subparsers = argparse._SubParsersAction[argparse.ArgumentParser]

DONE, REFUSED, INTERRUPTED = 0, 2, 130
"""Exit statuses; the last is the usual one after Ctrl-C."""

MOST_SPURS = 50
MOST_FLAGS = 9
STEEPEST = 10.0
CHOCK_FROM = 0.5
"""Per cent: the grade from which the answer to "a chock?" is yes unless the builder says no."""

DESCRIPTION = """\
Ask a few questions about your layout and its spurs, and write a commented
layout file that "spurlock check" passes. Enter alone takes the answer in
brackets. Pins are chosen from those of the Pi's header that suit a contact or
a lamp; when they run out, "auto" stands for a wire that has no pin yet.

A file that exists is never overwritten. Ctrl-C leaves without writing.
"""

EXAMPLES = """\
examples:
  spurlock new                       ask, and write layout.toml
  spurlock new my-layout.toml        ask, and write my-layout.toml
  spurlock new first.toml --yes      ask nothing: one spur with the usual things
"""

T = TypeVar("T")


def add_parser(subparsers: Subparsers) -> None:
    """Add the command to the console script's parser."""
    parser = subparsers.add_parser(
        "new",
        help="ask a few questions and write a layout file to start from",
        description=DESCRIPTION,
        epilog=EXAMPLES,
        formatter_class=argparse.RawDescriptionHelpFormatter,
    )
    parser.add_argument(
        "file",
        metavar="FILE",
        nargs="?",
        type=Path,
        default=Path("layout.toml"),
        help="the file to write (default: layout.toml)",
    )
    parser.add_argument("--yes", action="store_true", help="take every default, ask nothing")
    parser.set_defaults(run=run)


def run(args: argparse.Namespace) -> int:
    """Run the command; the answer is the exit status."""
    return new(args.file, sys.stdin, sys.stdout, yes=args.yes)


def new(
    path: Path, answers: TextIO, out: TextIO, *, yes: bool = False, err: TextIO | None = None
) -> int:
    """Ask on ``out``, read from ``answers``, and write the layout file at ``path``.

    The answer is 0 when the file is written, 2 when it can't be, 130 after Ctrl-C.
    """
    try:
        _write(path, answers, out, yes)
    except KeyboardInterrupt:
        print("\nStopped; nothing was written.", file=err or sys.stderr)
        return INTERRUPTED
    except (EOFError, OSError, UnicodeError) as error:
        print(printable(f"{path}: {_reason(error)}"), file=err or sys.stderr)
        return REFUSED
    print(printable(f"Wrote {path}. Now: spurlock check {quote(str(path))}"), file=out)
    return DONE


def _write(path: Path, answers: TextIO, out: TextIO, yes: bool) -> None:
    if path.exists() or path.is_symlink():
        raise FileExistsError
    told = _usual() if yes else ask(_Asker(answers, out))
    text = layout_text(told)
    parse_layout(text, str(path))
    with path.open("x", encoding="utf-8", newline="\n") as stream:
        stream.write(text)


def _reason(error: Exception) -> str:
    match error:
        case EOFError():
            return "the answers ended before the last question; nothing was written"
        case UnicodeError():
            return "an answer is not text in UTF-8; nothing was written"
        case FileExistsError():
            return "it exists already and is never overwritten; give another name"
        case _:
            reason = getattr(error, "strerror", None) or error
            return f"it can't be written: {reason}; give another place"


def ask(asker: _Asker) -> Answers:
    """Put every question; raises `EOFError` when the answers end early."""
    name = asker.ask("What is the layout called?", "My layout", _name)
    scale = asker.ask("Which scale?", DEFAULT, _scale)
    count = asker.ask("How many spurs?", "1", _whole(1, MOST_SPURS))
    spurs = tuple(_ask_spur(asker, number) for number in range(1, count + 1))
    return Answers(name, scale, spurs)


def _ask_spur(asker: _Asker, number: int) -> SpurAnswers:
    asker.say(f"\nSpur {number}")
    name = asker.ask("  What is it called?", f"Spur {number}", _name)
    padlock = asker.ask("  Is its switch padlocked?", "yes", _yes_or_no)
    gate = asker.ask("  Is there a gate across it?", "no", _yes_or_no)
    derail = asker.ask("  Is there a derail?", "no", _yes_or_no)
    flags = asker.ask("  How many blue flags?", "1", _whole(0, MOST_FLAGS))
    grade = asker.ask("  How steep is it, in per cent?", "0", _grade)
    usual = "yes" if grade >= CHOCK_FROM else "no"
    chock = asker.ask("  Is there a wheel chock?", usual, _yes_or_no)
    foreman = asker.ask("  Who answers as its foreman (host, auto, none)?", "host", _foreman)
    return SpurAnswers(name, padlock, gate, derail, flags, chock, grade, foreman)


class _Asker:
    """Puts one question at a time, and again until the answer can be used."""

    def __init__(self, answers: TextIO, out: TextIO) -> None:
        self._answers = answers
        self._out = out

    def say(self, text: str) -> None:
        print(text, file=self._out)

    def ask(self, question: str, default: str, read: Callable[[str], T]) -> T:
        while True:
            print(f"{question} [{default}] ", end="", file=self._out, flush=True)
            line = self._answers.readline()
            if not line:
                raise EOFError
            try:
                return read(line.strip() or default)
            except ValueError as error:
                self.say(f"    {error}")


def _usual() -> Answers:
    return Answers("My layout", spurs=(SpurAnswers("Spur 1"),))


def _name(answer: str) -> str:
    if not answer.isprintable():
        raise ValueError("Use letters, digits and signs that can be shown.")
    return answer


def _scale(answer: str) -> str:
    meant = answer if answer in RATIOS else nearest(answer)
    if meant is not None and meant.casefold() == answer.casefold():
        return meant
    raise ValueError(f"There is no scale {shown(answer)} here; known are {', '.join(RATIOS)}.")


def _whole(low: int, high: int) -> Callable[[str], int]:
    def read(answer: str) -> int:
        if answer.isdecimal() and len(answer) <= 4 and low <= int(answer) <= high:
            return int(answer)
        raise ValueError(f"Write a whole number from {low} to {high}.")

    return read


def _grade(answer: str) -> float:
    try:
        grade = float(answer.removesuffix("%").replace(",", "."))
    except ValueError:
        grade = -1.0
    if not 0.0 <= grade <= STEEPEST:
        raise ValueError(f"Write a number from 0 to {STEEPEST:g}, such as 1.2.")
    return grade


def _yes_or_no(answer: str) -> bool:
    word = answer.lower()
    if word in ("y", "yes"):
        return True
    if word in ("n", "no"):
        return False
    raise ValueError("Write yes or no.")


def _foreman(answer: str) -> ForemanKind:
    try:
        return ForemanKind(answer.lower())
    except ValueError:
        meant = suggestion(answer, [kind.value for kind in ForemanKind])
        raise ValueError(f"Write host, auto or none; {meant}") from None
