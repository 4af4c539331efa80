"""Builds debriefs' evenings from the logbook, and keeps those of sessions that are over.

An evening takes a second or so to build and some memory to keep, so only a few are kept whole;
of those that are only compared with, a short form is kept.
"""

from __future__ import annotations

import threading
from collections import OrderedDict
from collections.abc import Callable, Collection, Hashable, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Generic, TypeVar

from firmware_py.layout.errors import LayoutError
from firmware_py.layout.model import Layout
from firmware_py.layout.reading import parse_layout
from firmware_py.logbook.passing import made_edges
from firmware_py.logbook.reading import Reader
from firmware_py.logbook.records import StandingRecord
from firmware_py.logbook.screen.jobs import Job
from firmware_py.logbook.screen.ticks import Tick, ticks_of
from web.asks import AskError
from web.debrief.digest import Digest, crews_of, digest_of
from web.debrief.evening import Evening, Pass
from web.debrief.gathering import KINDS, PACE_KINDS, Gathering
from web.debrief.source import (
    Header,
    about,
    entries_of,
    keys_out_at_end,
    keys_out_now,
    last_entry,
    violation_count,
)
from web.live.passes import detectors, directions

KEPT_EVENINGS = 4
KEPT_DIGESTS = 64
LONGEST_SILENCE_US = 8 * 3600 * 1_000_000
"""A session that runs may be silent for so long; a wall clock that says more was stepped."""

Made = TypeVar("Made")


class Shelf(Generic[Made]):
    """Keeps the ``most`` things that were wanted last. Not safe between threads."""

    def __init__(self, most: int) -> None:
        self._most = most
        self._kept: OrderedDict[Hashable, Made] = OrderedDict()

    def __len__(self) -> int:
        return len(self._kept)

    def get(self, key: Hashable, make: Callable[[], Made]) -> Made:
        """What is kept under a key, or what is made now and kept from then on."""
        if key not in self._kept:
            made = make()
            while len(self._kept) >= self._most:
                self._kept.popitem(last=False)
            self._kept[key] = made
        self._kept.move_to_end(key)
        return self._kept[key]


@dataclass(frozen=True, slots=True)
class Told:
    """A session with its layout, its evening and what its crews ticked."""

    header: Header
    layout: Layout
    evening: Evening
    ticks: Sequence[Tick]


class Library:
    """Gives evenings and digests. Safe between threads, of which one builds at a time."""

    def __init__(self, reader: Reader) -> None:
        self._reader = reader
        self._lock = threading.Lock()
        self.evenings: Shelf[Told] = Shelf(KEPT_EVENINGS)
        self.digests: Shelf[Digest] = Shelf(KEPT_DIGESTS)

    def told(
        self, header: Header, now_wall_us: int, standing: Mapping[str, StandingRecord] | None
    ) -> Told:
        """The whole evening. ``standing`` is for the session that runs, while it is proven.

        Raises ``LogbookError``, and ``AskError`` 409 where its layout can't be read any more.
        """
        with self._lock:
            if not header.ended:
                return self._build(header, now_wall_us, standing)
            key = header.id, header.began_wall_us, header.ended_t_us
            return self.evenings.get(key, lambda: self._build(header, now_wall_us, None))

    def digests_of(self, headers: Sequence[Header], jobs: Sequence[Job]) -> list[Digest]:
        """Sessions that are over, in short and in the order given."""
        jobs = tuple(jobs)
        found = []
        for header in headers:
            with self._lock:
                key = header.id, header.began_wall_us, header.ended_t_us, hash(jobs)
                made = self.digests.get(key, lambda of=header: self._digest(of, jobs))  # type: ignore[misc] # bound here
                found.append(made)
        return found

    def _build(
        self, header: Header, now_wall_us: int, standing: Mapping[str, StandingRecord] | None
    ) -> Told:
        reader, session = self._reader, header.id
        row = about(reader.engine, session)
        try:
            layout = parse_layout(row.layout_toml, row.layout_path)
        except LayoutError as wrong:
            raise AskError(409, f"the layout of session {session} can't be read: {wrong}") from None
        evening = self._evening(header, row.outset, KINDS, now_wall_us)
        evening.violations = tuple(reversed(reader.violations(session)))
        evening.passes = self._directed(session, layout, evening.passes)
        if header.ended:
            whole = row.tape_gap is None
            evening.keys_out = keys_out_at_end(reader.engine, session, layout, whole=whole)
        else:
            evening.keys_out = keys_out_now(layout, standing or {})
        return Told(header, layout, evening, ticks_of(reader.engine, session))

    def _directed(self, session: int, layout: Layout, passes: Sequence[Pass]) -> list[Pass]:
        """The passes with the way that each went, as far as the tape tells."""
        if not passes:
            return []
        edges = made_edges(self._reader.engine, session, detectors(layout))
        toward = directions(layout, [(one.t_us, one.trap) for one in passes], edges)
        return [replace(one, toward=toward.get((one.t_us, one.trap), "")) for one in passes]

    def _digest(self, header: Header, jobs: Sequence[Job]) -> Digest:
        engine, session = self._reader.engine, header.id
        evening = self._evening(header, about(engine, session).outset, PACE_KINDS, 0)
        violations, ticks = violation_count(engine, session), ticks_of(engine, session)
        begun = session, header.began_wall_us
        return digest_of(begun, evening, violations, crews_of(evening, jobs, ticks))

    def _evening(
        self,
        header: Header,
        outset: Mapping[str, object],
        kinds: Collection[str],
        now_wall_us: int,
    ) -> Evening:
        gathering = Gathering(outset)
        for entry in entries_of(self._reader, header.id, kinds):
            gathering.take(entry.line, entry.id)
        length_us = self._length_us(header, now_wall_us)
        return gathering.evening(length_us, ended=header.ended)

    def _length_us(self, header: Header, now_wall_us: int) -> int:
        """How long it lasted; of one that was cut off or runs, up to the last that is known."""
        if header.ended_t_us is not None:
            return header.ended_t_us
        last = last_entry(self._reader, header.id)
        t_us, wall_us = last if last else (0, header.began_wall_us)
        silent_us = now_wall_us - wall_us
        runs = not header.ended and 0 <= silent_us <= LONGEST_SILENCE_US
        return t_us + silent_us if runs else t_us
