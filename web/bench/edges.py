"""Raw edges of a contact: the last ones for its trace, and the gaps within its bounces. Pure.

A bounce is a run of edges each of which follows the one before within the contact's settle time,
so that none of them but the last could settle. All times are session time in microseconds.
"""

from __future__ import annotations

from bisect import bisect_right
from collections import deque
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from typing import Any

from firmware_py.layout.model import Contact, Layout
from firmware_py.logbook.records import ReadingRecord

KEPT = 24
"""Edges of a contact's trace: what a phone's width can show one by one."""

BUCKETS_US = (500, 1_000, 2_000, 5_000, 10_000, 20_000, 50_000)
"""Where one bar of the histogram ends and the next begins."""


@dataclass(slots=True)
class Trace:
    """One contact's edges. ``before`` is its level before the first of ``edges``.

    ``gaps`` counts the gaps within bounces by ``BUCKETS_US``; ``longest_us`` is from the first
    to the last edge of the longest bounce.
    """

    settle_us: int
    before: bool | None = None
    edges: deque[tuple[int, bool | None]] = field(default_factory=deque)
    gaps: list[int] = field(default_factory=lambda: [0] * (len(BUCKETS_US) + 1))
    bounces: int = 0
    longest_us: int = 0
    _began_us: int = 0
    _bouncing: bool = False

    def start(self, made: bool | None) -> None:
        """Take how the contact stood as the session began: no edge."""
        self.before = made

    def edge(self, t_us: int, made: bool | None) -> None:
        """Take an edge."""
        if not self.edges and self.before is None and made is not None:
            self.before = not made  # Of a contact with two states that is the other one.
        if self.edges:
            self._note_gap(t_us, t_us - self.edges[-1][0])
        else:
            self._began_us = t_us
        if len(self.edges) == KEPT:
            self.before = self.edges.popleft()[1]
        self.edges.append((t_us, made))

    def view(self) -> dict[str, Any]:
        """The trace as JSON-ready data."""
        return {
            "before": self.before,
            "trace": list(self.edges),
            "gaps": list(self.gaps),
            "bounces": self.bounces,
            "longest_us": self.longest_us,
        }

    def _note_gap(self, t_us: int, gap_us: int) -> None:
        if gap_us >= self.settle_us:
            self._began_us, self._bouncing = t_us, False
            return
        self.gaps[bisect_right(BUCKETS_US, gap_us)] += 1
        self.bounces += not self._bouncing
        self._bouncing = True
        self.longest_us = max(self.longest_us, t_us - self._began_us)


class Traces:
    """The traces of all contacts of a layout; what they hold does not grow with time.

    ``since_us`` is when the first reading was made that was taken, ``None`` before any;
    ``whole`` whether that was the session's first.
    """

    def __init__(self, layout: Layout) -> None:
        self._contacts: Mapping[str, Contact] = {c.name: c for c in layout.contacts}
        self._of = {name: Trace(c.settle_us) for name, c in self._contacts.items()}
        self.since_us: int | None = None
        self.last_id = 0

    @property
    def whole(self) -> bool:
        """Whether all readings of the session were taken."""
        return self.since_us == 0

    def take(self, readings: Iterable[ReadingRecord]) -> None:
        """Take readings, oldest first; those of contacts that the layout lacks are passed over."""
        for reading in readings:
            if self.since_us is None:
                self.since_us = reading.t_us
            self.last_id = reading.id
            trace = self._of.get(reading.contact)
            if trace is None:
                continue
            if reading.t_us == 0:
                trace.start(reading.made)
            else:
                trace.edge(reading.t_us, reading.made)

    def view(self, contact: str) -> dict[str, Any]:
        """A contact's trace as JSON-ready data."""
        return self._of[contact].view()
