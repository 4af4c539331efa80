"""A switch: its points, stage and spell, and the rules of rulebook section 5.

What an event did to the switch is left in ``turn`` for its spurs, which have rules of their
own about it; the switch knows nothing of them.
"""

from __future__ import annotations

from firmware_py.core.agenda import Agenda, Due, Timer
from firmware_py.core.contacts import Contact, clear, made
from firmware_py.core.entries import StageEntry
from firmware_py.core.event import STAGES, Event
from firmware_py.core.names import Fault, Points, Rule, Stage
from firmware_py.core.stages import (
    LOCKED,
    NONE_TO_KEEP,
    NONE_TO_KEEP_WITHOUT_LOCK,
    UNLOCKED,
    WITHOUT_LOCK,
    Spell,
    points_of,
)
from firmware_py.layout.model import Times

CHANGED = 1
"""Hasp, points or stage changed: whatever depends on them must be looked at again."""
CAME_OFF = 2
"""The switch came off, as a protection of its spur."""
REVERSED = 4
"""The points settled reverse."""
RIGHTED = 8
"""The points settled normal."""
DETECTED = 16
"""The detector settled, either way."""
OCCUPIED = 32
"""The detector settled occupied."""
RESTORED = 64
"""The stage became restored."""
SHUT = 128
"""The stage became secured after a spell of being lined."""


class Switch:
    """A switch as the core knows it; ``turn`` holds the marks above for the running event.

    ``spur_us`` is when a spur's detector last settled or an order for a spur was accepted.
    """

    __slots__ = (
        "_detector_us",
        "_event",
        "_gapped",
        "_kept",
        "_left_lined",
        "_left_unlocked",
        "_none_to_keep",
        "_said_lined",
        "_said_unlocked",
        "_stage_us",
        "_times",
        "_unlocked",
        "detector",
        "faults",
        "hasp",
        "hook",
        "id",
        "normal",
        "points",
        "reverse",
        "spell",
        "spell_runs",
        "spur_id",
        "spur_us",
        "stage",
        "turn",
    )

    def __init__(
        self, event: Event, agenda: Agenda, ident: str, times: Times, contacts: dict[str, Contact]
    ) -> None:
        self.id = ident
        self._event = event
        self._times = times
        self.hasp = contacts.get("hasp")
        self.normal = contacts["normal"]
        self.reverse = contacts["reverse"]
        self.detector = contacts.get("detector")
        self.hook: Contact | None = None
        self.spur_id: str | None = None
        self._unlocked = UNLOCKED if self.hasp else WITHOUT_LOCK
        self._none_to_keep = NONE_TO_KEEP if self.hasp else NONE_TO_KEEP_WITHOUT_LOCK
        self.faults = self.turn = self.spur_us = 0
        self.points = Points.NORMAL
        self.stage = Stage.SECURED
        self.spell = Spell.FRESH
        self.spell_runs = False
        self._kept: Stage | None = None
        self._stage_us = self._detector_us = 0
        self._said_lined = self._said_unlocked = False
        self._gapped = Timer(agenda, Due.GAPPED, ident, self._gap)
        self._left_lined = Timer(agenda, Due.LEFT_LINED, ident, self._leave_lined)
        self._left_unlocked = Timer(agenda, Due.LEFT_UNLOCKED, ident, self._leave_unlocked)
        self._take(contacts)

    def _take(self, contacts: dict[str, Contact]) -> None:
        for role, contact in contacts.items():
            contact.home = self
            match role:
                case "hasp":
                    contact.react, contact.lose = self._hasp_settled, self._hasp_lost
                case "normal" | "reverse":
                    contact.react, contact.lose = self._points_settled, self._points_lost
                case "detector":
                    contact.react, contact.lose = self._detector_settled, self._detector_lost

    @property
    def timers(self) -> tuple[Timer, ...]:
        """The deadlines of this switch."""
        return self._gapped, self._left_lined, self._left_unlocked

    def begin(self) -> None:
        """Judge how things stand as the session begins: silently, deadlines running from 0."""
        self.points = points_of(self.normal.settled, self.reverse.settled)
        if self.points is Points.BETWEEN:
            self._gapped.set(self._times.throw_us)
        elif self.points is Points.DISPUTED:
            self.faults += 1
        elif self.points is Points.REVERSE:
            self._line()
        self.stage = self._judged()
        self.spell_runs = self.stage is Stage.LINED or self.stage is Stage.IN_USE
        self._keep()
        self._retime()

    def is_known(self) -> bool:
        """Whether hasp and points are all known, so that nothing about them is a guess."""
        hasp_known = self.hasp is None or self.hasp.settled is not None
        return hasp_known and None not in (self.normal.settled, self.reverse.settled)

    # What the contacts did.

    def _hasp_settled(self, contact: Contact, locked: bool) -> None:
        self.turn |= CHANGED
        if locked:
            if self.points is not Points.NORMAL:
                self._breach(Rule.LOCKED_OFF_NORMAL)
        else:
            if made(self.hook):
                self._breach(Rule.KEY_ON_HOOK)
            self.turn |= CAME_OFF
            self._open_spell()
        self._restage()

    def _hasp_lost(self, contact: Contact) -> None:
        # Not known to be locked is not locked, but nobody opened it: a spell that runs goes on.
        if self.points is not Points.REVERSE and not self.spell_runs:
            self.spell = Spell.FRESH
        self._restage()

    def _points_settled(self, contact: Contact, arrived: bool) -> None:
        if not arrived:
            if made(self.hasp):
                self._breach(Rule.MOVED_WHILE_LOCKED)
            if made(self.detector):
                self._breach(Rule.THROWN_UNDER_TRAIN)
        self._turn_points()
        self._restage()

    def _points_lost(self, contact: Contact) -> None:
        self._turn_points()
        self._restage()

    def _detector_settled(self, contact: Contact, occupied: bool) -> None:
        self._detector_us = self._event.t_us
        self.turn |= DETECTED
        if occupied:
            self.turn |= OCCUPIED
            if self.points is Points.BETWEEN:
                self._breach(Rule.ENTERED_GAPPED_POINTS)
            elif self.points is Points.REVERSE:
                self.spell = Spell.USED
        self._restage()

    def _detector_lost(self, contact: Contact) -> None:
        self._retime()

    def stir(self) -> None:
        """A spur's detector settled, or an order for a spur was accepted."""
        self.spur_us = self._event.t_us
        self._retime()

    # What follows from it.

    def _turn_points(self) -> None:
        points = points_of(self.normal.settled, self.reverse.settled)
        before = self.points
        if points is before:
            return
        self.points = points
        self.turn |= CHANGED
        if before is Points.BETWEEN:
            self._gapped.clear()
        elif before is Points.DISPUTED:
            self._dispute(ended=True)
        if points is Points.BETWEEN:
            self._gapped.set(self._event.t_us + self._times.throw_us)
        elif points is Points.DISPUTED:
            self._dispute(ended=False)
        elif points is Points.NORMAL:
            self.turn |= RIGHTED
        elif points is Points.REVERSE:
            self._reverse_points()

    def _reverse_points(self) -> None:
        self.turn |= REVERSED
        if self.hasp is None:
            self.turn |= CAME_OFF
        self._line()

    def _dispute(self, *, ended: bool) -> None:
        self.faults += -1 if ended else 1
        self._event.fault(Fault.POINTS_DISPUTED, self.id, ended=ended)

    def _open_spell(self) -> None:
        self.spell_runs = False
        self._kept = None
        self._stage_us = self._event.t_us
        self._said_unlocked = False
        self.spell = Spell.FRESH
        if self.points is Points.REVERSE:
            self._line()

    def _line(self) -> None:
        """The points lie reverse anew; a spell of being lined runs from here if unlocked."""
        self.spell = Spell.USED if made(self.detector) else Spell.LINED
        if not made(self.hasp):
            self._run_spell()

    def _run_spell(self) -> None:
        if not self.spell_runs:
            self.spell_runs = True
            self._said_lined = False
            self._stage_us = self._event.t_us

    def _judged(self) -> Stage:
        hasp = self.hasp
        if hasp is not None and hasp.settled is True:
            return LOCKED[self.points]
        return self._unlocked[self.points, self.spell] or self._kept or self._none_to_keep

    def _restage(self) -> None:
        stage = self._judged()
        if stage is not self.stage:
            self.stage = stage
            self._stage_us = self._event.t_us
            self._said_unlocked = False
            self.turn |= CHANGED
            self._event.add(STAGES, StageEntry(self._event.t_us, self.id, stage))
            if stage is Stage.LINED or stage is Stage.IN_USE:
                self._run_spell()
            elif stage is Stage.SECURED:
                self._shut()
            elif stage is Stage.RESTORED:
                self.turn |= RESTORED
        self._keep()
        self._retime()

    def _shut(self) -> None:
        if self.spell_runs:
            self.turn |= SHUT
        self.spell_runs = False
        self.spell = Spell.FRESH
        self._kept = None

    def _keep(self) -> None:
        if not made(self.hasp):
            self._kept = self.stage

    # Deadlines.

    def _retime(self) -> None:
        stage = self.stage
        if stage is Stage.SECURED or stage is Stage.IRREGULAR:
            self._left_lined.clear()
            self._left_unlocked.clear()
            return
        is_clear = clear(self.detector)
        since_us = max(self._stage_us, self._detector_us)
        if (stage is Stage.LINED or stage is Stage.IN_USE) and is_clear and not self._said_lined:
            self._left_lined.set(max(since_us, self.spur_us) + self._times.restore_within_us)
        else:
            self._left_lined.clear()
        is_open = stage is Stage.UNLOCKED or stage is Stage.RESTORED
        if is_open and is_clear and not self._said_unlocked:
            self._left_unlocked.set(since_us + self._times.relock_within_us)
        else:
            self._left_unlocked.clear()

    def _gap(self) -> None:
        self._breach(Rule.GAPPED_POINTS)

    def _leave_lined(self) -> None:
        self._said_lined = True
        self._breach(Rule.LEFT_LINED)

    def _leave_unlocked(self) -> None:
        self._said_unlocked = True
        self._breach(Rule.LEFT_UNLOCKED)

    def _breach(self, rule: Rule) -> None:
        self._event.breach(rule, self.id, self.spur_id)
