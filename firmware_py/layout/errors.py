"""What is wrong with a layout file: one problem, the collection of them, and the exception."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from firmware_py.layout.lines import Lines, Path

LONGEST_SHOWN = 48
"""Characters of a value from the file that a message repeats before it cuts it off."""


@dataclass(frozen=True, slots=True)
class Problem:
    """One thing that is wrong: the file, the line where it is known, and what would be right."""

    file: str
    line: int | None
    what: str

    def __str__(self) -> str:
        """``file:line: what``, always on one line and always printable."""
        where = self.file if self.line is None else f"{self.file}:{self.line}"
        return printable(f"{where}: {self.what}")


class LayoutError(ValueError):
    """A layout file that can't be used; ``problems`` holds at least one, in file order."""

    def __init__(self, problems: Iterable[Problem]) -> None:
        self.problems = tuple(sorted(problems, key=_file_order))
        super().__init__(str(self.problems[0]))


class Problems:
    """Collects problems while a file is read, and finds their lines."""

    def __init__(self, file: str, lines: Lines) -> None:
        self.file = file
        self.lines = lines
        self.found: list[Problem] = []
        self._known: set[Problem] = set()

    def add(self, path: Path, what: str) -> None:
        """Note, once, that the value at ``path`` is wrong; an empty path is the whole file."""
        problem = Problem(self.file, self.lines.of(path), what)
        if problem not in self._known:
            self._known.add(problem)
            self.found.append(problem)

    def raise_any(self) -> None:
        """Raise `LayoutError` if anything was noted."""
        if self.found:
            raise LayoutError(self.found)


def shown(value: object) -> str:
    """A value from the file as a message repeats it: in TOML's spelling, and cut if it is long."""
    match value:
        case bool():
            text = "true" if value else "false"
        case str():
            text = f'"{value}"'
        case dict():
            text = "a table"
        case list():
            text = f"a list of {len(value)}"
        case float():
            text = repr(value)
        case int():
            text = _whole(value)
        case _:
            text = f"the date or time {value}"
    return text if len(text) <= LONGEST_SHOWN else f"{text[: LONGEST_SHOWN - 3]}..."


def printable(text: str) -> str:
    """The text with every character that could break a line or a terminal written as an escape."""
    return "".join(c if c.isprintable() else c.encode("unicode_escape").decode() for c in text)


def _whole(value: int) -> str:
    # Python refuses to write out integers of thousands of digits.
    return str(value) if value.bit_length() < 256 else "a number of very many digits"


def _file_order(problem: Problem) -> tuple[bool, int]:
    return problem.line is None, problem.line or 0
