"""Whether a sitting lives: its beat is watched against the screen's own clock."""

from __future__ import annotations

from firmware_py.commissioning.showing import Shown, State
from firmware_py.logbook.sitting import SittingRecord

SILENT_S = 4.0
"""A sitting counts its beat up about once a second."""
LISTEN_S = 3.0
"""For so long after the screen has begun to look, silence says nothing yet."""


class Heart:
    """Remembers when a beat was last seen to change. Times are seconds of a monotonic clock."""

    def __init__(self) -> None:
        self._seen: tuple[int, int] | None = None
        self._began_s: float | None = None
        self._moved_s: float | None = None

    def note(self, sitting: SittingRecord | None, now_s: float) -> None:
        """Note what was read. What stood there at the first look proves nothing."""
        first = self._began_s is None
        if first:
            self._began_s = now_s
        seen = None if sitting is None else (sitting.id, sitting.beat)
        if seen != self._seen and not first:
            self._moved_s = now_s
        self._seen = seen

    def word(self, shown: Shown | None, now_s: float) -> str:
        """``none``, ``ended``, ``live``, ``listening`` or, of one that died, ``silent``."""
        if shown is None:
            return "none"
        if shown.state is State.STOPPED:
            return "ended"
        if self._moved_s is not None and now_s - self._moved_s < SILENT_S:
            return "live"
        listens = self._began_s is None or now_s - self._began_s < LISTEN_S
        return "listening" if self._moved_s is None and listens else "silent"
