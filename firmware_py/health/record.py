"""What engine, appliance, courier and gatherer say of themselves, in memory and not on the disk.

The logbook's disk may be the very thing that is full, so these small files lie in ``/dev/shm``,
which also spares the card. Ages are told by the kernel's monotonic clock and the machine's boot,
so that no step of the wall clock can make an old record look new.
"""

from __future__ import annotations

import contextlib
import hashlib
import os
import tempfile
import time
from pathlib import Path
from typing import TypeVar

import msgspec

STALE_AFTER_S = 10.0
"""A record older than this was not written by an engine that is well."""

_MEMORY = "dev/shm"
_BOOT = "proc/sys/kernel/random/boot_id"


class Part(msgspec.Struct, frozen=True):
    """One of the things that must move: ``pins``, ``queue``, ``core`` or ``logbook``.

    ``moves`` says that it does, ``trouble`` what hinders it, which may be so while it moves.
    """

    name: str
    moves: bool
    trouble: str | None = None


class EngineHealth(msgspec.Struct, frozen=True):
    """How an engine fares. ``state`` is ``starting`` or ``guarding``.

    ``troubles`` are those of wires and chips that stand now; ``drops`` counts raw readings that
    came too fast, ``raised`` how often something that hears the entries raised, both since the
    engine's start. ``at_us`` is the kernel's monotonic time in microseconds.
    """

    pid: int
    boot: str
    at_us: int
    state: str
    layout: str
    simulated: bool
    parts: tuple[Part, ...] = ()
    troubles: tuple[str, ...] = ()
    drops: int = 0
    raised: int = 0
    queued: int = 0


class ApplianceHealth(msgspec.Struct, frozen=True):
    """The process that keeps engine and screen running, and the screen's address."""

    pid: int
    boot: str
    screen: str


class CourierHealth(msgspec.Struct, frozen=True):
    """How the courier of a box named ``node`` fares.

    ``trouble`` is why it can't speak to its broker now, and ``logbook`` why it can't read what it
    is to carry; ``None`` where nothing hinders it. ``spoke_us`` is when it last gave the broker
    word of the box, and ``taken_us`` when the broker last seemed to give its connection to another
    of that name; both, as ``at_us``, in microseconds of the kernel's monotonic clock.
    """

    pid: int
    boot: str
    at_us: int
    node: str
    trouble: str | None = None
    logbook: str | None = None
    spoke_us: int | None = None
    taken_us: int | None = None


class GathererHealth(msgspec.Struct, frozen=True):
    """How the gatherer of a board host fares.

    ``trouble`` is why it can't hear its broker now, ``database`` why it can't write; ``boxes``
    how each box fares, a word of ``gathering/attendance.py`` by its name. ``at_us`` is as above.
    """

    pid: int
    boot: str
    at_us: int
    board: str
    trouble: str | None = None
    database: str | None = None
    boxes: dict[str, str] = {}


AnyHealth = EngineHealth | ApplianceHealth | CourierHealth | GathererHealth
Record = TypeVar("Record", EngineHealth, ApplianceHealth, CourierHealth, GathererHealth)
_CALLED = {
    EngineHealth: "engine",
    ApplianceHealth: "appliance",
    CourierHealth: "courier",
    GathererHealth: "gatherer",
}


def boot_id(root: Path = Path("/")) -> str:
    """Which boot of the machine this is; empty where the kernel does not say."""
    try:
        return (root / _BOOT).read_text("ascii").strip()
    except OSError:
        return ""


def now_us() -> int:
    """Now, in microseconds of the kernel's monotonic clock."""
    return time.monotonic_ns() // 1000


def path_of(logbook: str, kind: type[Record], root: Path = Path("/")) -> Path:
    """Where the record of a logbook's engine, appliance, courier or gatherer lies."""
    place = logbook if "://" in logbook else str(Path(logbook).expanduser().resolve())
    place = place.removeprefix("sqlite:///")
    name = hashlib.sha256(place.encode("utf-8", "surrogateescape")).hexdigest()[:16]
    memory = root / _MEMORY
    folder = memory if memory.is_dir() else Path(tempfile.gettempdir())
    return folder / f"spurlock-{name}-{_CALLED[kind]}.json"


def write(path: Path, record: AnyHealth) -> bool:
    """Put a record in the place of the one before, whole or not at all; false if that failed.

    Whoever waits for these words is worse off without them, but nothing else is.
    """
    # The folder is everyone's: a name that nobody can guess, then a rename that follows no link.
    fresh: str | None = None
    try:
        handle, fresh = tempfile.mkstemp(prefix=".spurlock-", dir=path.parent)
        with os.fdopen(handle, "wb") as file:
            file.write(msgspec.json.encode(record))
            os.fchmod(file.fileno(), 0o644)
        Path(fresh).replace(path)
    except OSError:
        if fresh is not None:
            with contextlib.suppress(OSError):
                Path(fresh).unlink()
        return False
    return True


def read(path: Path, kind: type[Record]) -> Record | None:
    """Read a record; ``None`` if there is none that can be understood."""
    try:
        return msgspec.json.decode(path.read_bytes(), type=kind)
    except (OSError, msgspec.MsgspecError):
        return None
