"""Bolts' coils, which get hot: one that was drawn for too long rests for as long, then goes on.

The core knows nothing of this: a bolt may be drawn for as long as the rulebook has it, and a
replay shows that. Only its wire is shut meanwhile. A solenoid's on-time is often rated, and half
the time on is half the heat (``hardware_docs/outputs.md``).
"""

from __future__ import annotations

from collections.abc import Callable, Iterable

from firmware_py.core.names import Shows
from firmware_py.pins.drives import Drive

SECOND_NS = 1_000_000_000

Say = Callable[[str], None]


class Rests:
    """Watches drives, and has each rest that was drawn for ``longest_s`` seconds.

    ``look`` belongs to the thread that owns the drives; how often it comes is how exact this is.
    ``clock_ns`` gives monotonic nanoseconds.
    """

    def __init__(
        self, drives: Iterable[Drive], longest_s: float | None, clock_ns: Callable[[], int]
    ) -> None:
        self._drives = tuple(drives) if longest_s is not None else ()
        self._longest_ns = round((longest_s or 0.0) * SECOND_NS)
        self._clock_ns = clock_ns
        self._since_ns: dict[Drive, int] = {}
        self._resting: set[Drive] = set()
        self._told: set[Drive] = set()
        self.say: Say = lambda _text: None

    def look(self) -> None:
        """See how long each has been drawn, or has rested."""
        now_ns = self._clock_ns()
        for drive in self._drives:
            if drive.shows is not Shows.DRAWN:
                self._since_ns.pop(drive, None)
                self._resting.discard(drive)
                self._told.discard(drive)
            elif now_ns - self._since_ns.setdefault(drive, now_ns) >= self._longest_ns:
                self._since_ns[drive] = now_ns
                self._turn(drive)

    def rests(self, drive: Drive) -> bool:
        """Whether it is shut just now although it shows that it is drawn."""
        return drive in self._resting

    def _turn(self, drive: Drive) -> None:
        if drive in self._resting:
            self._resting.discard(drive)
            drive.refresh()
            return
        self._resting.add(drive)
        drive.light(False)
        if drive not in self._told:  # Once for each time that it may be drawn.
            self._told.add(drive)
            seconds = f"{self._longest_ns / SECOND_NS:g} s"
            self.say(
                f"{drive.tally.at} was drawn for {seconds}; its coil rests for as long, shut, and "
                "so on in turn while it may be drawn."
            )
