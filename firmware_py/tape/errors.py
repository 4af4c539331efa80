"""What goes wrong with tapes."""

from __future__ import annotations

from firmware_py.layout.errors import printable


class TapeError(ValueError):
    """A tape can't be read. ``str()`` is one line: ``file:line: what is wrong``."""

    def __init__(self, file: str, line: int | None, problem: str) -> None:
        where = file if line is None else f"{file}:{line}"
        super().__init__(printable(f"{where}: {problem}"))
        self.file = file
        self.line = line
        self.problem = problem
