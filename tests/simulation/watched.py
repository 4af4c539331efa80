"""The real keeper, and a witness of everything that the engine tells it.

The witness knows what happened; the logbook must never know anything else.
"""

from __future__ import annotations

import hashlib
import json
import sqlite3
from collections.abc import Callable, Iterable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from typing import Any

from firmware_py.core.entries import Entry
from firmware_py.core.names import Command
from firmware_py.core.orders import Order
from firmware_py.logbook.writing import Keeper
from firmware_py.tape.lines import text_of
from firmware_py.tape.reading import RawReading, TapeLine, TapeOrder

from .hub import Hub

TapeValues = tuple[int, str | None, bool | None, str | None, str | None, int | None, int | None]


@dataclass(slots=True)
class Told:
    """A line of the tape (``values``) or an entry (``entry``), as the engine told it."""

    values: TapeValues | None = None
    entry: Entry | None = None
    event: int = 0
    """What is told of one event belongs together; 0 is what belongs to none."""
    dropped: bool = False
    committed: bool = False

    @property
    def line(self) -> TapeLine:
        """The line as a tape has it."""
        assert self.values is not None
        t_us, contact, made, command, spur, violation, cars = self.values
        if command is None:
            return RawReading(t_us, str(contact), made)
        return TapeOrder(t_us, Order(Command(command), spur, violation, cars))


@dataclass
class Story:
    """One session of the logbook, across all engines that kept it."""

    session: int
    told: list[Told] = field(default_factory=list)
    broken_off: bool = False
    """An engine ended after a line of the tape was dropped: the tape does not tell all of it."""
    rows_seen: dict[str, int] = field(default_factory=lambda: {"tape": 0, "entry": 0})
    next_at: dict[str, int] = field(default_factory=lambda: {"tape": 0, "entry": 0})

    @property
    def has_gap(self) -> bool:
        """Whether a raw reading was dropped."""
        return any(told.dropped for told in self.told)

    @property
    def tape(self) -> list[Told]:
        return [told for told in self.told if told.values is not None]

    @property
    def entries(self) -> list[Entry]:
        return [told.entry for told in self.told if told.entry is not None]

    def next_of(self, kind: str) -> Told | None:
        """The next line (``tape``) or entry that the log has to bring, or ``None``."""
        place = self.next_at[kind]
        while place < len(self.told):
            told = self.told[place]
            is_kind = told.values is not None if kind == "tape" else told.entry is not None
            if is_kind and not told.dropped and not told.committed:
                break
            place += 1
        self.next_at[kind] = place
        return self.told[place] if place < len(self.told) else None

    def cut(self) -> None:
        """The engine is gone: what was not committed never happened, as far as anyone knows."""
        last = max((n for n, told in enumerate(self.told) if told.committed), default=-1)
        del self.told[last + 1 :]
        self.next_at = {"tape": 0, "entry": 0}
        if self.has_gap:
            self.broken_off = True


class Digest:
    """A fingerprint of everything that happened, wherever ``folder`` is on this machine."""

    def __init__(self, folder: str) -> None:
        self._hash = hashlib.sha256()
        self._folder = folder

    def add(self, *what: object) -> None:
        # The folder's name is the machine's choice, and the log has the layout file's path.
        self._hash.update(repr(what).replace(self._folder, "folder").encode())

    def add_rows(self, look: sqlite3.Connection, tables: Iterable[str]) -> None:
        """Every row of some tables."""
        for table in tables:
            for row in look.execute(f"SELECT * FROM {table} ORDER BY 1, 2"):
                self.add(table, row)

    def __str__(self) -> str:
        return self._hash.hexdigest()[:16]


@dataclass
class Witness:
    """What the engine said in all of its lives; ``hear`` is called for every entry."""

    hub: Hub
    digest: Digest
    hear: Callable[[Entry], None]
    room: int
    stories: dict[int, Story] = field(default_factory=dict)
    story: Story | None = None
    events: int = 0
    event: int = 0
    """The event that is being told of, or 0."""
    drops: int = 0
    """Raw readings dropped in this life."""
    orders: int = 0
    """Orders given in this life."""
    began: Callable[[Story], None] = lambda story: None
    """Called as a session begins."""
    resumed: Callable[[Story], None] = lambda story: None
    """Called as an engine goes on with a session."""
    acknowledgements: list[int] = field(default_factory=list)
    """Violations acknowledged since somebody last looked."""
    trouble: str | None = None
    """The first thing that the keeper did wrong at once."""

    def open(self, session: int) -> Story:
        """The story that is being told from now on."""
        self.story = self.stories.setdefault(session, Story(session))
        return self.story

    def end_life(self) -> None:
        """The engine is gone."""
        if self.story is not None:
            self.story.cut()
        self.story = None
        self.drops = self.orders = self.event = 0
        self.acknowledgements.clear()


class WatchedKeeper(Keeper):
    """A keeper that tells a witness first, and lets others come in between."""

    witness: Witness

    def begin_session(self, **named: Any) -> int:  # noqa: ANN401 - passed on as it is
        session = super().begin_session(**named)
        self.witness.began(self.witness.open(session))
        return session

    def resume_session(self, session_id: int) -> None:
        super().resume_session(session_id)
        self.witness.resumed(self.witness.open(session_id))

    @contextmanager
    def together(self) -> Iterator[None]:
        with super().together():
            self.witness.events += 1
            self.witness.event = self.witness.events
            yield
            self.witness.event = 0

    def tape(
        self,
        t_us: int,
        contact: str | None = None,
        made: bool | None = None,
        *,
        command: str | None = None,
        spur: str | None = None,
        violation: int | None = None,
        cars: int | None = None,
    ) -> None:
        witness = self.witness
        witness.hub.point()
        before = self.health()
        values = t_us, contact, made, command, spur, violation, cars
        told = Told(values, event=witness.event)
        assert witness.story is not None
        witness.story.told.append(told)
        super().tape(
            t_us, contact, made, command=command, spur=spur, violation=violation, cars=cars
        )
        told.dropped = self.health().drops > before.drops
        witness.drops += told.dropped
        witness.orders += command is not None
        witness.digest.add(told.values, told.dropped)
        full = before.queued >= witness.room
        if told.dropped and (command is not None or not full):
            witness.trouble = f"dropped with room left or no reading: {told.values}"
        if command is None and full and not told.dropped:
            witness.trouble = f"taken with no room left: {told.values}"

    def entry(self, entry: Entry, wall_us: int) -> None:
        witness = self.witness
        witness.hub.point()
        assert witness.story is not None
        witness.story.told.append(Told(entry=entry, event=witness.event))
        witness.digest.add(text_of(entry), wall_us)
        super().entry(entry, wall_us)
        witness.hear(entry)

    def repeat(self, number: int, times: int, t_us: int) -> None:
        self.witness.hub.point()
        super().repeat(number, times, t_us)

    def acknowledged(self, number: int, t_us: int, note: str | None = None) -> None:
        self.witness.hub.point()
        self.witness.acknowledgements.append(number)
        super().acknowledged(number, t_us, note)

    def answer(self, request_id: int, accepted: bool, why: str | None = None) -> None:
        self.witness.hub.point()
        super().answer(request_id, accepted, why)

    def remark(self, text: str, t_us: int | None = None) -> None:
        self.witness.hub.point()
        self.witness.digest.add(text, t_us)
        super().remark(text, t_us)

    def pulse(self, state: str) -> None:
        self.witness.hub.point()
        super().pulse(state)


def json_of(line: TapeLine) -> str:
    """A line as it stands in a tape file."""
    said: dict[str, Any] = {"t": line.t_us / 1_000_000}
    if isinstance(line, RawReading):
        said |= {"contact": line.contact, "made": line.made}
    elif isinstance(line, TapeOrder):
        order = line.order
        about = {"spur": order.spur, "violation": order.violation, "cars": order.cars}
        said |= {"command": order.command.value}
        said |= {key: value for key, value in about.items() if value is not None}
    return json.dumps(said)
