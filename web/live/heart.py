"""Whether the engine is alive and guarding, judged by its beat and our own monotonic clock."""

from __future__ import annotations

from dataclasses import dataclass

from firmware_py.logbook.records import PulseRecord

SILENT_AFTER_S = 6.0


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


SAYS = {
    "guarding": "Engine guarding",
    "starting": "Engine starting: nothing is proven yet",
    "stopped": "Engine stopped: treat every switch as red",
    "silent": "Engine silent: treat every switch as red",
    "listening": "Listening for the engine: treat every switch as red",
    "unread": "Logbook unreadable: treat every switch as red",
    "absent": "No engine has written here yet: treat every switch as red",
}
