"""A table of the file that is being read: every key is asked for, and what was not is unknown."""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass
from difflib import get_close_matches
from enum import StrEnum
from typing import TypeVar

from firmware_py.layout.errors import Problems, shown
from firmware_py.layout.lines import Path

ENOUGH = 20
"""Problems of one sort at one table; a file with more of them is not a layout at all."""

Choice = TypeVar("Choice", bound=StrEnum)


@dataclass(frozen=True, slots=True)
class Span:
    """The values a number may take. ``above`` is shut out, ``low`` and ``high`` are let in."""

    unit: str
    high: float
    low: float | None = None
    above: float | None = None

    def holds(self, value: float) -> bool:
        """Whether the value lies inside; never for nan or an infinity."""
        if value > self.high or (isinstance(value, float) and not math.isfinite(value)):
            return False
        if self.above is not None and value <= self.above:
            return False
        return self.low is None or value >= self.low

    def __str__(self) -> str:
        if self.above is not None:
            return f"a number above {self.above:g}, at most {self.high:g} ({self.unit})"
        return f"a number from {self.low or 0:g} to {self.high:g} ({self.unit})"


class Table:
    """One table of the file.

    The reading methods always answer with something of the right type: what is wrong is noted in
    ``problems``, and the layout is thrown away at the end if anything was.
    """

    def __init__(
        self, problems: Problems, path: Path, values: dict[str, object], label: str
    ) -> None:
        self.problems = problems
        self.path = path
        self.label = label
        self._values = values
        self._asked: list[str] = []
        self._missing: dict[str, str] = {}

    def value(self, key: str) -> object | None:
        """The raw value, ``None`` where the key is absent."""
        self._asked.append(key)
        return self._values.get(key)

    def wrong(self, key: str | None, what: str) -> None:
        """Note a problem with a key of this table, or with the table itself."""
        path = self.path if key is None else (*self.path, key)
        self.problems.add(path, f"{self.label}: {what}" if self.label else what)

    def text(self, key: str) -> str | None:
        """A text of at least one printable character."""
        value = self.value(key)
        if value is None:
            return None
        if not isinstance(value, str):
            self.wrong(key, f"{key} must be a text in quotes, not {shown(value)}")
            return None
        if not value.strip() or not value.isprintable():
            self.wrong(key, f"{key} must be a text that can be shown on one line, and not blank")
            return None
        return value

    def needed(self, key: str, example: str) -> str:
        """A text that must be there; empty where it is not."""
        if key not in self._values:
            self.missing(key, f"; write {key} = {example}")
        return self.text(key) or ""

    def flag(self, key: str) -> bool:
        """True or false, false where the key is absent."""
        value = self.value(key)
        if value is not None and not isinstance(value, bool):
            self.wrong(key, f"{key} must be true or false (no quotes), not {shown(value)}")
        return value is True

    def number(self, key: str, default: float, span: Span) -> float:
        """A number inside the span."""
        value = self.value(key)
        if value is None:
            return default
        return number_of(self, key, value, span, default)

    def choice(self, key: str, default: Choice) -> Choice:
        """One of the words of the enum that the default is of."""
        value = self.value(key)
        if value is None:
            return default
        words = [word.value for word in type(default)]
        if isinstance(value, str) and value in words:
            return type(default)(value)
        listed = " or ".join(f'"{word}"' for word in words)
        self.wrong(key, f"{key} must be {listed}, not {shown(value)}")
        return default

    def texts(self, key: str) -> tuple[str, ...] | None:
        """A list of texts."""
        value = self.value(key)
        if value is None:
            return None
        if isinstance(value, list) and all(isinstance(part, str) for part in value):
            return tuple(str(part) for part in value)
        self.wrong(key, f'{key} must be a list of ids such as ["foreman", "kiln-switch"]')
        return None

    def table(self, key: str, example: str) -> Table:
        """A table inside this one, empty where it is absent."""
        value = self.value(key)
        if value is not None and not isinstance(value, dict):
            self.wrong(key, f"{key} must be a table such as {example}, not {shown(value)}")
        values = dict(value) if isinstance(value, dict) else {}
        label = f"{self.label}: {key}" if self.label else key
        return Table(self.problems, (*self.path, key), values, label)

    def missing(self, key: str, right: str) -> None:
        """Note that a key must be there and is not, unless a misspelling of it turns up."""
        self._asked.append(key)
        self._missing[key] = f"{key} is missing{right}"

    def finish(self) -> None:
        """Note every key that nobody asked for, and every key that is missing."""
        unknown = [key for key in self._values if key not in self._asked]
        for key in unknown[:ENOUGH]:
            self.wrong(key, f"unknown key {shown(key)}; {suggestion(key, self._asked)}")
        meant = {nearest(key, self._asked) for key in unknown[:ENOUGH]}
        for key, what in self._missing.items():
            if key not in meant:
                self.wrong(None, what)


def number_of(table: Table, key: str, value: object, span: Span, default: float) -> float:
    """A value that must be a number inside the span; the default where it is not."""
    if isinstance(value, bool) or not isinstance(value, int | float) or not span.holds(value):
        table.wrong(key, f"{key} must be {span}, not {shown(value)}")
        return default
    return float(value)


def nearest(word: str, known: Iterable[str]) -> str | None:
    """The known word that was most likely meant, ``None`` where none is near."""
    close = get_close_matches(word.lower(), list(known), n=1)
    return close[0] if close else None


def suggestion(word: str, known: Iterable[str]) -> str:
    """What may have been meant by an unknown word, or everything that is known."""
    words = list(dict.fromkeys(known))
    close = nearest(word, words)
    if close:
        return f'did you mean "{close}"?'
    return f"known here: {', '.join(words)}" if words else "there is none"
