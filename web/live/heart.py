"""Whether the engine is alive and guarding, judged by its beat and our own monotonic clock.

The beat is in the logbook. When that can't be written, the engine's words on how it fares, which
lie in memory, tell why the beat is missing.
"""

from __future__ import annotations

import os
from dataclasses import dataclass
from pathlib import Path

from firmware_py.health.record import STALE_AFTER_S, EngineHealth, Part, boot_id, now_us, read
from firmware_py.logbook.records import PulseRecord

SILENT_AFTER_S = 6.0
ASK_EVERY_S = 0.5
_LONGEST = 300


@dataclass(slots=True)
class Heart:
    """Watches the beat. Nothing counts as alive until the beat was seen to change once.

    All times are seconds of a monotonic clock that the caller reads, so that no step of the
    wall clock can make a dead engine look alive.
    """

    beat: int | None = None
    moved_at: float | None = None
    state: str | None = None
    session_id: int | None = None

    def note(self, pulse: PulseRecord | None, now: float) -> None:
        """Take in the pulse as it was read at ``now``; ``None`` where no engine ever wrote."""
        if pulse is None:
            self.beat = self.moved_at = self.state = self.session_id = None
            return
        if self.beat is not None and pulse.beat != self.beat:
            self.moved_at = now
        self.beat, self.state, self.session_id = pulse.beat, pulse.state, pulse.session_id

    def word(self, now: float) -> str:
        """``guarding``, ``starting``, ``stopped``, ``silent``, ``listening`` or ``absent``."""
        if self.state is None:
            return "absent"
        if self.state == "stopped":
            return "stopped"
        if self.moved_at is None:
            return "listening"
        if now - self.moved_at >= SILENT_AFTER_S:
            return "silent"
        return self.state if self.state in {"guarding", "starting"} else "silent"


@dataclass(frozen=True, slots=True)
class Unwritten:
    """The logbook can't be written, by the engine's own word; ``why`` is in plain words.

    ``guards`` is false where something else in the engine stands still too.
    """

    why: str
    guards: bool

    @property
    def says(self) -> str:
        """What the head says of it."""
        if self.guards:
            return (
                f"The engine guards, but the logbook can't be written: {self.why}. "
                "What stands here is old. Go by the lamps at the switches"
            )
        return (
            f"The engine stands still, and the logbook can't be written: {self.why}. "
            "What stands here is old. Treat every switch as red"
        )


class Account:
    """Asks the engine's health record, at most twice a second, why the logbook stands still.

    ``record`` is where it lies; with ``None`` nothing is ever known. Not believed is a record
    that is old, of another boot, or of a process that is gone: then silence is all there is.
    """

    def __init__(self, record: Path | None) -> None:
        self._record = record
        self._boot = boot_id()
        self._asked_at: float | None = None
        self._heard: Unwritten | None = None

    def ask(self, now: float) -> Unwritten | None:
        """What is wrong with the writing, ``None`` where all is well or nobody can say.

        ``now`` is in seconds of the caller's monotonic clock.
        """
        if self._record is None:
            return None
        if self._asked_at is None or not 0 <= now - self._asked_at < ASK_EVERY_S:
            self._asked_at = now
            health = read(self._record, EngineHealth)
            believed = health is not None and self._is_believed(health)
            self._heard = _unwritten(health) if health is not None and believed else None
        return self._heard

    def _is_believed(self, health: EngineHealth) -> bool:
        age_us = now_us() - health.at_us
        fresh = 0 <= age_us <= STALE_AFTER_S * 1_000_000
        return fresh and health.boot == self._boot and _runs(health.pid)


def _unwritten(health: EngineHealth) -> Unwritten | None:
    if not any(part.name == "logbook" and part.trouble for part in health.parts):
        return None
    halted = [part for part in health.parts if not part.moves and part.name != "logbook"]
    why = "; ".join(filter(None, (_about(part) for part in health.parts)))
    guards = health.state == "guarding" and not halted
    return Unwritten(why[:_LONGEST].rstrip(".; "), guards)


def _about(part: Part) -> str | None:
    """A part's trouble; that of the logbook needs no name before it."""
    if part.name == "logbook" or part.trouble is None:
        return part.trouble
    return f"{part.name}: {part.trouble}"


def _runs(pid: int) -> bool:
    """Whether a process is there, whoever's it is."""
    if pid <= 0:
        return False  # These would ask after whole groups of processes.
    try:
        os.kill(pid, 0)
    except PermissionError:
        return True
    except (OSError, OverflowError):
        return False
    return True


SAYS = {
    "guarding": "Engine guarding",
    "starting": "Engine starting: nothing is proven yet",
    "stopped": "Engine stopped: treat every switch as red",
    "silent": "Engine silent: treat every switch as red",
    "listening": "Listening for the engine: treat every switch as red",
    "unread": "Logbook unreadable: treat every switch as red",
    "absent": "No engine has written here yet: treat every switch as red",
}
