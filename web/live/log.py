"""Reads the logbook step by step: the newest session, and what was written since the last look."""

from __future__ import annotations

import time
from collections import deque
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field

from firmware_py.layout.reading import parse_layout
from firmware_py.logbook.passing import made_edges
from firmware_py.logbook.reading import Reader
from firmware_py.logbook.records import (
    ByHandRecord,
    EntryRecord,
    RemarkRecord,
    SessionRecord,
    StandingRecord,
    ViolationRecord,
)
from firmware_py.logbook.screen.jobs import Job, jobs_of
from firmware_py.logbook.screen.marks import mark
from firmware_py.logbook.screen.rounds import rounds
from firmware_py.logbook.screen.settings import settings
from firmware_py.logbook.screen.ticks import Tick, ticks_of
from web.live.board import Board, begin
from web.live.passes import NEWEST, At, detectors, directions
from web.live.plan import Plan

BATCH = 1_000
KEPT_REMARKS = 8
REST_FACTOR = 10.0
"""The violations are all read anew each time, so after a long read comes a longer rest."""

Clock = Callable[[], float]


@dataclass(slots=True)
class Followed:
    """One session as far as it was read. ``last_id`` is the id of the last entry folded.

    ``jobs`` are the layout's, with those that were taken away, ``ticks`` what the crews say they
    have done, ``by_hand`` the outputs that a host works now, by their names, and ``round_id`` is
    what the crews' links are made for (see ``access/links.py``). ``toward`` is the detector at
    which each of the last passes of a trap ended, where known.
    ``silent`` says of rows whose box is not heard, on a board of many, what the head would say.
    """

    session: SessionRecord
    plan: Plan
    board: Board
    last_id: int = 0
    violations: Sequence[ViolationRecord] = ()
    standing: Mapping[str, StandingRecord] = field(default_factory=dict)
    remarks: Sequence[RemarkRecord] = ()
    by_hand: Mapping[str, ByHandRecord] = field(default_factory=dict)
    jobs: Sequence[Job] = ()
    ticks: Sequence[Tick] = ()
    settings: Mapping[str, str] = field(default_factory=dict)
    round_id: int = 0
    toward: Mapping[At, str] = field(default_factory=dict)
    mark: tuple[object, ...] = ()
    silent: Mapping[str, str] = field(default_factory=dict)
    violations_due: float = 0.0
    owing: bool = False


def newest(reader: Reader, known: Followed | None) -> Followed | None:
    """The newest session: the one that is known already, brought up to its row, or a new one.

    Raises ``LogbookError`` or ``LayoutError``, whose texts say what is wrong.
    """
    session = reader.session()
    if session is None:
        return None
    # Ids begin anew in a logbook that took the place of a damaged one.
    same = (session.id, session.began_wall_us)
    if known is not None and (known.session.id, known.session.began_wall_us) == same:
        known.session = session
        return known
    layout = parse_layout(session.layout_toml, session.layout_path)
    return Followed(session, Plan(layout), begin(session.outset))


def read_on(reader: Reader, followed: Followed, clock: Clock = time.monotonic) -> list[EntryRecord]:
    """Fold what was committed since the last call and read what stands now.

    Returns the new entries, oldest first; at most the newest thousand of them.
    """
    new: deque[EntryRecord] = deque(maxlen=BATCH)
    while True:
        batch = reader.entries(followed.session.id, followed.last_id, BATCH)
        for entry in batch:
            followed.board.fold(entry.line, entry.id)
            followed.last_id = entry.id
        new.extend(batch)
        if len(batch) < BATCH:
            break
    if any(entry.what == "speed" for entry in new):
        _read_directions(reader, followed)
    followed.standing = reader.standing()
    followed.remarks = reader.remarks(None, KEPT_REMARKS)
    followed.by_hand = {hand.output: hand for hand in reader.by_hand()}
    read_screens_own(reader, followed)
    _read_violations(reader, followed, clock)
    return list(new)


def _read_directions(reader: Reader, followed: Followed) -> None:
    layout = followed.plan.layout
    edges = made_edges(reader.engine, followed.session.id, detectors(layout), NEWEST)
    kept = [(t_us, at) for t_us, at, _ in followed.board.speeds]
    found = {**followed.toward, **directions(layout, kept, edges)}
    followed.toward = {one: found[one] for one in kept if one in found}


def read_screens_own(reader: Reader, followed: Followed) -> None:
    """Read what the screen itself keeps: jobs, ticks, settings, and what links are made for."""
    engine, session = reader.engine, followed.session
    followed.settings = settings(engine)
    now = mark(engine)
    if now == followed.mark:
        return
    followed.jobs = jobs_of(engine, session.layout_name, dropped=True)
    followed.ticks = ticks_of(engine, session.id)
    if not followed.mark or session.ended_t_us is not None:
        # It stays for as long as the session does, even in a file that knows no earlier one.
        followed.round_id = next(iter(rounds(engine, 1)), 0)
    followed.mark = now


def _read_violations(reader: Reader, followed: Followed, clock: Clock) -> None:
    began = clock()
    followed.owing = began < followed.violations_due
    if followed.owing:
        return
    followed.violations = reader.violations(followed.session.id)
    ended = clock()
    followed.violations_due = ended + (ended - began) * REST_FACTOR
