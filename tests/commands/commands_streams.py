"""Tapes that are made while they are read, and count how much of them was."""

from __future__ import annotations

import io
from collections.abc import Iterator


class OneLongLine(io.RawIOBase):
    """A file of one single line of ``size`` bytes. ``handed_out`` counts what was read of it."""

    def __init__(self, size: int) -> None:
        super().__init__()
        self._left = size
        self.handed_out = 0

    def readable(self) -> bool:
        return True

    def readline(self, size: int | None = -1, /) -> bytes:
        return self.read(size)

    def read(self, size: int | None = -1, /) -> bytes:
        wanted = self._left if size is None or size < 0 else min(size, self._left)
        self._left -= wanted
        self.handed_out += wanted
        return b"a" * wanted

    def readall(self) -> bytes:
        return self.read()


class MadeAsRead(io.RawIOBase):
    """A file whose lines come from an iterator, one for each ``readline``."""

    def __init__(self, lines: Iterator[bytes]) -> None:
        super().__init__()
        self._lines = lines
        self.lines_read = 0

    def readable(self) -> bool:
        return True

    def readline(self, size: int | None = -1, /) -> bytes:
        line = next(self._lines, b"")
        assert size is None or size < 0 or len(line) <= size
        self.lines_read += bool(line)
        return line
