"""Finds the line of every table, key and list element of a TOML text.

The standard library's reader gives values but no positions, and a message without a line is a
poor one. The text has already been read as TOML when it comes here, so the scan only has to tell
keys from strings and brackets; where it meets something it does not know it stops, and problems
beyond that point carry the last line that is known for their table.
"""

from __future__ import annotations

import re
import tomllib
from bisect import bisect_right
from contextlib import suppress

Path = tuple[str | int, ...]
"""Where a value stands: ``("switch", 0, "contacts", "hasp")`` is in the first ``[[switch]]``."""

_BLANK = re.compile(r"(?:[ \t\r\n]|#[^\n]*)*")
_SPACE = re.compile(r"[ \t]*")
_KEY = re.compile(r"""[A-Za-z0-9_-]+|"(?:[^"\\\n]|\\.)*"|'[^'\n]*'""")
_STRING = re.compile(
    r'"""(?:\\.|[^\\])*?"""(?:"{0,2})'
    r"|'''.*?'''(?:'{0,2})"
    r'|"(?:[^"\\\n]|\\.)*"'
    r"|'[^'\n]*'",
    re.DOTALL,
)
_SCALAR = re.compile(r"[^,\]}#\n]+")


class Lines:
    """The lines of the values of one text, counted from 1, and where its strings stand in it."""

    def __init__(self, found: dict[Path, int], strings: dict[Path, tuple[int, int]]) -> None:
        self._found = found
        self._strings = strings

    def string(self, path: Path) -> tuple[int, int] | None:
        """Where the string at exactly that path begins and ends, quotes included."""
        return self._strings.get(path)

    def of(self, path: Path) -> int | None:
        """The line of the value, or of the nearest table around it that has one."""
        for length in range(len(path), 0, -1):
            line = self._found.get(path[:length])
            if line is not None:
                return line
        return None


def lines_of(text: str) -> Lines:
    """Scan a text that is known to be TOML."""
    scan = _Scan(text)
    with suppress(_UnknownError, RecursionError):
        scan.document()
    return Lines(scan.found, scan.strings)


class _UnknownError(Exception):
    """The scan met something it can't place."""


class _Scan:
    def __init__(self, text: str) -> None:
        self.text = text
        self.at = 0
        self.found: dict[Path, int] = {}
        self.strings: dict[Path, tuple[int, int]] = {}
        self._breaks = [match.start() for match in re.finditer("\n", text)]
        self._counts: dict[Path, int] = {}

    def document(self) -> None:
        table: Path = ()
        self._match(_BLANK)
        while self.at < len(self.text):
            if self.text.startswith("[[", self.at):
                table = self._header(2)
            elif self.text.startswith("[", self.at):
                table = self._header(1)
            else:
                self._pair(table)
            self._match(_BLANK)

    def _header(self, brackets: int) -> Path:
        line = self._line()
        self.at += brackets
        keys = self._keys()
        self._expect("]" * brackets)
        path: Path = ()
        for key in keys[:-1]:
            path = self._into((*path, key), line)
        last = (*path, keys[-1])
        if brackets == 1:
            return self._into(last, line)
        self._note(last, line)
        count = self._counts.get(last, 0)
        self._counts[last] = count + 1
        return self._note((*last, count), line)

    def _into(self, path: Path, line: int) -> Path:
        """The table at ``path``: of an array of tables, its newest."""
        self._note(path, line)
        count = self._counts.get(path)
        return path if count is None else (*path, count - 1)

    def _pair(self, table: Path) -> None:
        line = self._line()
        path = table
        for key in self._keys():
            path = self._note((*path, key), line)
        self._expect("=")
        self._value(path)

    def _value(self, path: Path) -> None:
        self._match(_SPACE)
        match self.text[self.at : self.at + 1]:
            case "[":
                self._list(path)
            case "{":
                self._inline(path)
            case '"' | "'":
                start = self.at
                self._match(_STRING)
                self.strings[path] = start, self.at
            case _:
                self._match(_SCALAR)

    def _list(self, path: Path) -> None:
        self._expect("[")
        index = 0
        self._match(_BLANK)
        while not self._skip("]"):
            self._value(self._note((*path, index), self._line()))
            index += 1
            self._match(_BLANK)
            self._skip(",")
            self._match(_BLANK)

    def _inline(self, path: Path) -> None:
        self._expect("{")
        self._match(_BLANK)
        while not self._skip("}"):
            self._pair(path)
            self._match(_BLANK)
            self._skip(",")
            self._match(_BLANK)

    def _keys(self) -> list[str]:
        keys = [self._key()]
        while self._skip("."):
            keys.append(self._key())
        return keys

    def _key(self) -> str:
        self._match(_SPACE)
        token = self._match(_KEY)
        self._match(_SPACE)
        if token[0] not in "\"'":
            return token
        return str(tomllib.loads(f"key = {token}")["key"])

    def _note(self, path: Path, line: int) -> Path:
        self.found.setdefault(path, line)
        return path

    def _line(self) -> int:
        return bisect_right(self._breaks, self.at - 1) + 1

    def _match(self, pattern: re.Pattern[str]) -> str:
        match = pattern.match(self.text, self.at)
        if match is None:
            raise _UnknownError
        self.at = match.end()
        return match.group()

    def _skip(self, token: str) -> bool:
        here = self.text.startswith(token, self.at)
        self.at += len(token) if here else 0
        return here

    def _expect(self, token: str) -> None:
        if not self._skip(token):
            raise _UnknownError
