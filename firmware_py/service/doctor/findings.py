"""What the doctor finds, and where it looks."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from enum import StrEnum
from pathlib import Path


class State(StrEnum):
    """How a part fares; ``UNTOLD`` is what this machine has no way to tell."""

    WELL = "well"
    CARE = "CARE"
    UNTOLD = "untold"
    UNREADABLE = "UNREADABLE"


@dataclass(frozen=True, slots=True)
class Finding:
    """How one part fares, in words, and what to do where it needs care."""

    part: str
    state: State
    says: str
    do: str = ""


@dataclass(frozen=True, slots=True)
class Case:
    """What is examined: the logbook, and the layout where it is known.

    ``root`` is the machine's file system (a test's own folder, else ``/``), ``wall_us`` the wall
    clock and ``steady_us`` the kernel's monotonic one, in microseconds.
    """

    logbook: str
    layout: Path | None
    root: Path
    wall_us: Callable[[], int]
    steady_us: Callable[[], int]

    @property
    def file(self) -> Path | None:
        """The logbook's file; ``None`` where a database server keeps it."""
        if "://" not in self.logbook:
            return Path(self.logbook).expanduser()
        if self.logbook.startswith("sqlite:///"):
            return Path(self.logbook.removeprefix("sqlite:///"))
        return None


def well(part: str, says: str) -> Finding:
    """A part that is well."""
    return Finding(part, State.WELL, says)


def care(part: str, says: str, do: str) -> Finding:
    """A part that needs care."""
    return Finding(part, State.CARE, says, do)


def untold(part: str, says: str) -> Finding:
    """A part of which this machine tells nothing."""
    return Finding(part, State.UNTOLD, says)


def unreadable(part: str, says: str, do: str) -> Finding:
    """A part that can't be read at all."""
    return Finding(part, State.UNREADABLE, says, do)


def span(seconds: float) -> str:
    """A length of time in words, in its largest unit."""
    for length, unit in ((86_400, "day"), (3_600, "hour"), (60, "minute")):
        if seconds >= 2 * length:
            return f"{seconds // length:.0f} {unit}s"
    return f"{seconds:.0f} s"
