"""Which entries of a session are wanted: by spur, rule, kind and time."""

from __future__ import annotations

import argparse
import re
from dataclasses import dataclass
from datetime import datetime, timedelta

from firmware_py.core.entries import What
from firmware_py.core.names import Rule
from firmware_py.layout.errors import LayoutError
from firmware_py.layout.model import Layout
from firmware_py.layout.reading import parse_layout
from firmware_py.logbook.errors import LogbookError
from firmware_py.logbook.records import EntryRecord, SessionRecord

_LENGTH = re.compile(r"(?:(\d+)h)?(?:(\d+)m)?(?:(\d+(?:\.\d+)?)s?)?")
_TIME = re.compile(r"\d?\d:\d\d(:\d\d)?")
_HALF_A_DAY = timedelta(hours=12)
_TIMES = '90, 12m or 1h30m into the session, or 20:15 or "2031-04-07 20:15" by the clock'


@dataclass(frozen=True, slots=True)
class Moment:
    """A bound in time: ``t_us`` of the session, or a local time of the wall clock."""

    t_us: int | None = None
    at: datetime | None = None
    day_known: bool = True

    def reached(self, entry: EntryRecord, session: SessionRecord) -> bool:
        """Whether an entry is at this moment or after it."""
        if self.t_us is not None:
            return entry.t_us >= self.t_us
        return entry.wall_us >= self._wall_us(session)

    def passed(self, entry: EntryRecord, session: SessionRecord) -> bool:
        """Whether an entry is after this moment."""
        if self.t_us is not None:
            return entry.t_us > self.t_us
        return entry.wall_us > self._wall_us(session)

    def _wall_us(self, session: SessionRecord) -> int:
        assert self.at is not None, "a moment is in one time or the other"
        at = self.at
        if not self.day_known:
            # Of a time without a day, the one that is nearest to the session's beginning.
            began = datetime.fromtimestamp(session.began_wall_us / 1_000_000)
            at = datetime.combine(began.date(), at.time())
            if at - began >= _HALF_A_DAY:
                at -= timedelta(days=1)
            elif began - at > _HALF_A_DAY:
                at += timedelta(days=1)
        return round(at.timestamp() * 1_000_000)


@dataclass(frozen=True, slots=True)
class Choice:
    """What was asked for; ``None`` is everything."""

    spur: str | None = None
    rule: str | None = None
    kinds: frozenset[str] | None = None
    since: Moment | None = None
    until: Moment | None = None

    @property
    def is_everything(self) -> bool:
        """Whether nothing is left out."""
        return self == Choice()

    def of(self, session: SessionRecord) -> Chosen:
        """The choice for one session. Raises ``LogbookError`` for a spur that it does not know."""
        if self.spur is None:
            return Chosen(self, session, frozenset())
        try:
            layout = parse_layout(session.layout_toml, session.layout_path)
        except LayoutError:
            return Chosen(self, session, frozenset({self.spur}))
        return Chosen(self, session, _things_of(layout, self.spur))


@dataclass(frozen=True, slots=True)
class Chosen:
    """A choice for one session. ``things`` are those that belong to the spur asked for."""

    choice: Choice
    session: SessionRecord
    things: frozenset[str]

    def wants(self, entry: EntryRecord) -> bool:
        """Whether an entry is one of those asked for."""
        choice = self.choice
        return (
            (choice.spur is None or self._concerns(entry))
            and (choice.rule is None or entry.line.get("rule") == choice.rule)
            and (choice.since is None or choice.since.reached(entry, self.session))
            and (choice.until is None or not choice.until.passed(entry, self.session))
        )

    def _concerns(self, entry: EntryRecord) -> bool:
        if entry.spur is not None:
            return entry.spur == self.choice.spur
        return (entry.at or "").partition(".")[0] in self.things


def kinds(text: str) -> frozenset[str]:
    """The kinds named in ``--what``; raises ``ArgumentTypeError`` for one there isn't."""
    words = {word.strip() for word in text.split(",") if word.strip()}
    strange = sorted(words - set(What))
    if strange or not words:
        wrong = f"there is no kind {strange[0]!r}" if strange else "no kind is named"
        raise argparse.ArgumentTypeError(f"{wrong}; there are {', '.join(What)}")
    return frozenset(words)


def rule(text: str) -> str:
    """The rule named; raises ``ArgumentTypeError`` for one there isn't."""
    if text not in set(Rule):
        raise argparse.ArgumentTypeError(f"there is no rule {text!r}; there are {', '.join(Rule)}")
    return text


def moment(text: str) -> Moment:
    """The bound in time; raises ``ArgumentTypeError`` for what is none."""
    if text and (length := _LENGTH.fullmatch(text)):
        hours, minutes, seconds = (float(part or 0) for part in length.groups())
        return Moment(t_us=round(((hours * 60 + minutes) * 60 + seconds) * 1_000_000))
    try:
        if _TIME.fullmatch(text):
            padded = text.rjust(len("20:15"), "0") if len(text) < 6 else text.rjust(8, "0")
            return Moment(at=datetime.fromisoformat(f"2000-01-01 {padded}"), day_known=False)
        return Moment(at=datetime.fromisoformat(text))
    except ValueError:
        raise argparse.ArgumentTypeError(f"{text!r} is no time; give {_TIMES}") from None


def _things_of(layout: Layout, spur: str) -> frozenset[str]:
    found = next((one for one in layout.spurs if one.id == spur), None)
    if found is None:
        known = ", ".join(sorted(one.id for one in layout.spurs))
        raise LogbookError(f"the session's layout has no spur {spur!r}; it has {known}")
    switch = next(one for one in layout.switches if one.id == found.switch)
    of_spur = {
        *(gate.id for gate in layout.gates if gate.spur == spur),
        *(derail.id for derail in layout.derails if derail.spur == spur),
        *(flag.id for flag in layout.flags if flag.spur == spur),
        *(chock.id for chock in layout.chocks if chock.spur == spur),
    }
    keys = {switch.key, *(gate.key for gate in layout.gates if gate.spur == spur)}
    traps = {
        trap.id
        for trap in layout.traps
        if {end.partition(".")[0] for end in (trap.first, trap.second)} & {spur, switch.id}
    }
    return frozenset({spur, switch.id, *filter(None, keys), *of_spur, *traps})
