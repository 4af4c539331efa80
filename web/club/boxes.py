"""Every box of a board as far as its log was read."""

from __future__ import annotations

import logging
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any

import msgspec

from firmware_py.layout.errors import LayoutError
from firmware_py.layout.model import Layout
from firmware_py.layout.reading import parse_layout
from firmware_py.logbook.records import (
    EntryRecord,
    RemarkRecord,
    SessionRecord,
    StandingRecord,
    ViolationRecord,
)
from web.club.naming import Naming
from web.club.reading import ClubReader, NodeRecord
from web.live.board import Board, begin
from web.live.plan import Plan

log = logging.getLogger(__name__)

BATCH = 2_000
GUARDING = "guarding"


@dataclass(slots=True)
class Box:
    """One box's session. ``changes`` grows whenever something of it is read anew."""

    node: NodeRecord
    session: SessionRecord
    naming: Naming
    plan: Plan
    board: Board
    violations: Sequence[ViolationRecord] = ()
    standing: Mapping[str, StandingRecord] = field(default_factory=dict)
    revision: int | None = None
    trouble: str = ""
    changes: int = 0

    @property
    def live(self) -> bool:
        """Whether what is known of it is proven now."""
        return (
            self.node.state == GUARDING
            and not self.trouble
            and self.node.session_id == self.session.id
            and self.session.ended_t_us is None
        )


class Boxes:
    """Reads all boxes on; only the follower's thread may call :meth:`read_on`."""

    def __init__(self, reader: ClubReader) -> None:
        self.by_name: dict[str, Box] = {}
        self.nodes: Sequence[NodeRecord] = ()
        self.last_id = 0
        self._reader = reader
        self._base_us: int | None = None
        self._layouts: dict[tuple[str, str], Layout] = {}
        self._seen: dict[str, tuple[int, int | None]] = {}

    def read_on(self, own: SessionRecord) -> list[EntryRecord]:
        """Read what was written since; new entries, oldest first, in the board's names."""
        if own.began_wall_us != self._base_us:
            self.by_name.clear()
            self._seen.clear()
            self._base_us = own.began_wall_us
        self.nodes = self._reader.nodes()
        order = [node.name for node in self.nodes]
        for node in self.nodes:
            self._bring_up(node, own)
        self.by_name = {name: self.by_name[name] for name in order if name in self.by_name}
        return self._fold_new()

    @property
    def live(self) -> dict[str, Box]:
        """The boxes that are proven now."""
        return {name: box for name, box in self.by_name.items() if box.live}

    def _bring_up(self, node: NodeRecord, own: SessionRecord) -> None:
        box = self.by_name.get(node.name)
        if node.session_id is not None and (box is None or box.session.id != node.session_id):
            box = self._begun(node, own)
        if box is None:
            return
        before, box.node = box.node, node
        if (before.state, before.trouble, before.session_id) != (
            node.state,
            node.trouble,
            node.session_id,
        ):
            box.changes += 1
        if box.revision == node.revision:
            return
        box.revision = node.revision
        gathered = self._reader.gathered(box.session.id)
        if gathered is not None:
            box.session = gathered.session
        name = box.naming
        violations = self._reader.current_violations(box.session.id)
        box.violations = tuple(name.violation(one) for one in violations)
        standing = (name.standing(one) for one in self._reader.standing_of(node.name))
        box.standing = {one.contact: one for one in standing}

    def _begun(self, node: NodeRecord, own: SessionRecord) -> Box | None:
        assert node.session_id is not None, "asked only where there is one"
        found = self._reader.gathered(node.session_id)
        if found is None:
            return self.by_name.get(node.name)
        session = found.session
        shift_us = session.began_wall_us - found.offset_us - own.began_wall_us
        naming = Naming(node.name, node.id, shift_us, found.offset_us)
        try:
            layout = self._layout(naming, session)
            board = begin(naming.outset(session.outset))
        except (LayoutError, ValueError, TypeError, KeyError, AttributeError):
            log.exception("the session of box %s can't be read", node.name)
            self.by_name.pop(node.name, None)
            return None
        box = Box(node, session, naming, Plan(layout), board)
        self.by_name[node.name] = box
        self._catch_up(box)
        return box

    def _layout(self, naming: Naming, session: SessionRecord) -> Layout:
        key = naming.node, session.layout_toml
        if key not in self._layouts:
            parsed = parse_layout(session.layout_toml, session.layout_path)
            self._layouts = {one: kept for one, kept in self._layouts.items() if one[0] != key[0]}
            self._layouts[key] = naming.layout(parsed)
        return self._layouts[key]

    def _catch_up(self, box: Box) -> None:
        """Fold what others' entries have left behind: this session's, up to what was read."""
        after = 0
        while after < self.last_id:
            batch = self._reader.entries_of([box.session.id], after, BATCH)
            for _, entry in batch:
                if entry.id <= self.last_id:
                    self._fold(box, entry)
            if len(batch) < BATCH:
                return
            after = batch[-1][1].id

    def _fold_new(self) -> list[EntryRecord]:
        of_session = {box.session.id: box for box in self.by_name.values()}
        new: list[EntryRecord] = []
        while of_session:
            batch = self._reader.entries_of(list(of_session), self.last_id, BATCH)
            for session, entry in batch:
                told = self._fold(of_session[session], entry)
                self.last_id = entry.id
                if told is not None:
                    new.append(told)
            if len(batch) < BATCH:
                break
        return new[-BATCH:]

    def _fold(self, box: Box, entry: EntryRecord) -> EntryRecord | None:
        box.changes += 1
        try:
            line: dict[str, Any] = box.naming.line(entry.line)
            box.board.fold(line, entry.id)
        except (KeyError, TypeError, ValueError, AttributeError) as wrong:
            # The gatherer lets no such line in; should one stand there, only its box is unproven.
            if not box.trouble:
                log.exception("an entry of box %s can't be read", box.node.name)
            box.trouble = f"entry {entry.id} can't be read: {wrong!r}"
            return None
        return msgspec.structs.replace(
            entry,
            t_us=box.naming.time(entry.t_us),
            at=box.naming.maybe(entry.at),
            spur=box.naming.maybe(entry.spur),
            line=line,
        )

    def remarks(self, limit: int) -> list[RemarkRecord]:
        """The boxes' last remarks, newest first, each with its box's name before it."""
        of_session = {box.session.id: box for box in self.by_name.values()}
        return [
            msgspec.structs.replace(
                one,
                t_us=None if one.t_us is None else box.naming.time(one.t_us),
                text=f"{box.node.name}: {one.text}",
            )
            for session, one in self._reader.remarks_of(list(of_session), limit)
            if session is not None and (box := of_session.get(session)) is not None
        ]
