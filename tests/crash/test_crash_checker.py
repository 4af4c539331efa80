"""The crash harness's checker finds what it is there for: a log that breaks each of its checks.

The logbook is a real one, of a session that was cut off while a crew had the kiln's switch open.
"""

from __future__ import annotations

import contextlib
import json
import sqlite3
from collections.abc import Sequence
from pathlib import Path

import pytest

from firmware_py.core.core import Core
from firmware_py.core.entries import Entry
from firmware_py.core.event import Repeated
from firmware_py.core.names import Command, Stage
from firmware_py.core.orders import Order
from firmware_py.engine.outset import outset_of
from firmware_py.layout.model import Layout
from firmware_py.layout.reading import parse_layout
from firmware_py.logbook.opening import logbook_url, open_engine
from firmware_py.logbook.requests import leave_order
from firmware_py.logbook.writing import Keeper
from tests.crash import checking
from tests.crash.checking import Broken, allowed
from tests.crash.listening import Delivered, frames_of
from tests.crash.log import Log, read
from tests.crash.played import Played, play

TOML = """
[layout]
name = "One kiln"
scale = "HO"

[times]
settle = 0.01
repeat_within = 5.0

[[switch]]
id = "kiln-switch"
lock = "padlock"
contacts = { hasp = 5, normal = 6, reverse = 12 }
lamps = { green = 13, red = 16 }

[[spur]]
id = "kiln"
switch = "kiln-switch"
"""
READINGS = (
    (0.100, "kiln-switch.normal", False),
    (0.200, "kiln-switch.normal", True),
    (0.300, "kiln-switch.normal", False),
    (0.400, "kiln-switch.normal", True),
    (0.500, "kiln-switch.hasp", False),
)
"""Moved while locked, twice, so that the violation comes again; then unlocked."""


class Case:
    """A logbook on disk, with the means to spoil it."""

    def __init__(self, path: Path) -> None:
        self.path = path
        self.layout: Layout = parse_layout(TOML, "kiln.toml")
        self._write()

    def _write(self) -> None:
        engine = open_engine(logbook_url(str(self.path)))
        keeper = Keeper(engine)
        core = Core(self.layout, notes=True)
        keeper.begin_session(
            layout_name="One kiln",
            layout_path="kiln.toml",
            layout_toml=TOML,
            simulated=True,
            outset=outset_of(core),
        )
        for name, raw in core.raw().items():
            keeper.tape(0, name, raw)
        for seconds, contact, made in READINGS:
            t_us = round(seconds * 1e6)
            self._note(keeper, core, core.advance(t_us - 1))
            keeper.tape(t_us, contact, made)
            self._note(keeper, core, core.reading(t_us, contact, made))
        self._note(keeper, core, core.advance(600_000))
        request = leave_order(engine, "acknowledge", violation=1, wall_us=1)
        keeper.tape(600_000, command="acknowledge", violation=1)
        self._note(keeper, core, core.order(600_000, Order(Command.ACKNOWLEDGE, violation=1)))
        keeper.acknowledged(1, 600_000, "seen")
        keeper.answer(request, True)
        for name, raw in core.raw().items():
            keeper.standing(name, raw, core.settled()[name], 1, 1)
        assert keeper.close()
        engine.dispose()

    @staticmethod
    def _note(keeper: Keeper, core: Core, entries: Sequence[Entry]) -> None:
        for entry in entries:
            keeper.entry(entry, entry.t_us)
        for note in core.take_notes():
            if isinstance(note, Repeated):
                keeper.repeat(note.number, note.times, note.t_us)

    def spoil(self, text: str) -> None:
        """Change the file behind everybody's back."""
        with contextlib.closing(sqlite3.connect(self.path)) as database:
            assert database.execute(text).rowcount != 0
            database.commit()

    def read(self) -> tuple[Log, Played]:
        """Read and play it."""
        log = read(self.path)
        assert log.session is not None
        return log, play(self.path, log.session, log.layout_toml)

    def delivered(self) -> list[Delivered]:
        """What a page was given that has seen it all."""
        return [Delivered(e.id, json.loads(e.line), 0.1) for e in read(self.path).entries]


@pytest.fixture
def case(tmp_path: Path) -> Case:
    return Case(tmp_path / "logbook.sqlite")


def judge(case: Case, delivered: Sequence[Delivered], before: tuple[Log, Played]) -> None:
    """Everything that the harness asks of a log after a stop in good order."""
    checking.check_integrity(case.path)
    log, played = case.read()
    checking.check_ids(log)
    checking.check_delivered(log, delivered)
    checking.check_shown(log, {1}, {1})
    checking.check_replay(log, played)
    checking.check_gone_on(log, before[1], len(before[0].tape_ids))
    checking.check_no_blame(log, before[1])
    checking.check_violations(log, quiet=True, played=played)
    checking.check_answers(log, played)
    assert checking.check_standing(log, played, quiet=True) == 3
    assert checking.check_stages(log, played, case.layout) == 1


def test_a_good_log_is_found_good(case: Case) -> None:
    judge(case, case.delivered(), case.read())
    kinds = {entry.what for entry in read(case.path).entries}
    assert kinds >= {"stage", "phase", "violation", "output"}


def test_an_engine_that_shows_before_it_commits_is_caught(case: Case) -> None:
    """The positive control: the page was given the last entry, and the kill took it."""
    shown, before = case.delivered(), case.read()
    case.spoil("DELETE FROM entry WHERE id = (SELECT max(id) FROM entry)")
    with pytest.raises(Broken, match="was delivered and is not in the log"):
        judge(case, shown, before)


SESSION = "layout_name, layout_path, layout_toml, simulated, began_wall_us, outset"
LAST = "(SELECT max(id) FROM entry)"
FIELDS = "session_id, t_us, wall_us, what, at, spur, line"
AGAIN = f"INSERT INTO entry ({FIELDS}) SELECT {FIELDS} FROM entry"


@pytest.mark.parametrize(
    ("spoil", "found"),
    [
        (f"UPDATE entry SET line = '{{}}' WHERE id = {LAST}", "was delivered as"),
        ("DELETE FROM entry WHERE id = 2", "entry ids are not"),
        (f"{AGAIN} WHERE id = {LAST}", "the log has"),
        ("UPDATE entry SET t_us = 9000000 WHERE id = 1", "session time falls"),
        ("DELETE FROM tape WHERE id = 4", "tape ids are not"),
        ("UPDATE tape SET t_us = t_us + 5000 WHERE id = 4", "replayed tape"),
        ("DELETE FROM violation", "not in the log"),
        ("UPDATE violation SET acknowledged_t_us = NULL", "the log forgot it"),
        ("UPDATE violation SET times = 1", "came as often as"),
        ("UPDATE standing SET raw = 1 WHERE contact = 'kiln-switch.hasp'", "the tape ends at"),
        ("UPDATE standing SET settled = 1 WHERE contact = 'kiln-switch.hasp'", "is settled at"),
        ("DELETE FROM standing", "do not stand in the log"),
        (f"INSERT INTO session ({SESSION}) SELECT {SESSION} FROM session", "2 sessions"),
    ],
)
def test_what_is_wrong_is_found(case: Case, spoil: str, found: str) -> None:
    shown, before = case.delivered(), case.read()
    case.spoil(spoil)
    with pytest.raises(Broken, match=found):
        judge(case, shown, before)


def test_a_damaged_page_is_found(case: Case) -> None:
    with contextlib.closing(sqlite3.connect(case.path)) as database:
        found = "SELECT rootpage FROM sqlite_master WHERE name = 'entry_of_session'"
        page = int(database.execute(found).fetchone()[0])
    with case.path.open("r+b") as file:
        file.seek(page * 4096 - 40)  # The end of a page, where its first rows are.
        file.write(b"\xff" * 40)
    with pytest.raises((Broken, sqlite3.DatabaseError)):
        checking.check_integrity(case.path)


def test_a_contact_that_settled_after_the_tapes_end_is_no_fault_of_a_kill(case: Case) -> None:
    """It settled with nothing else to log, and its standing went in with the tape's last line."""
    case.spoil("DELETE FROM entry WHERE t_us > 500000")
    case.spoil("DELETE FROM tape WHERE t_us > 500000")
    log, played = case.read()
    assert played.core.settled()["kiln-switch.hasp"] is True
    assert log.standing["kiln-switch.hasp"] == (False, False)
    assert checking.check_standing(log, played, quiet=False) == 2
    with pytest.raises(Broken, match="is settled at False"):
        checking.check_standing(log, played, quiet=True)
    case.spoil("UPDATE standing SET settled = NULL WHERE contact = 'kiln-switch.hasp'")
    with pytest.raises(Broken, match="is settled at None"):
        checking.check_standing(case.read()[0], played, quiet=False)


@pytest.mark.parametrize(
    ("ids", "found"), [((1, 2, 2), "left out or repeated"), ((1, 3), "left out or repeated")]
)
def test_a_stream_that_repeats_or_leaves_out_is_found(
    case: Case, ids: tuple[int, ...], found: str
) -> None:
    all_of_them = {entry.id: entry for entry in case.delivered()}
    with pytest.raises(Broken, match=found):
        checking.check_delivered(read(case.path), [all_of_them[one] for one in ids])


def test_a_session_that_forgets_what_its_tape_gave_is_found(case: Case) -> None:
    """After the kill the tape had more to give than the log; going on without it is a loss."""
    log, played = case.read()
    case.spoil("DELETE FROM entry WHERE id > 3")
    short, _ = case.read()
    checking.check_gone_on(short, played, len(log.tape_ids))  # It may not have begun to.
    with pytest.raises(Broken, match="before the log had all"):
        checking.check_gone_on(short, played, len(log.tape_ids) - 1)


def test_a_crew_blamed_as_the_session_goes_on_is_found(case: Case) -> None:
    """As if the engine had been killed just before the points were first seen to move."""
    log, played = case.read()
    first = next(n for n, entry in enumerate(log.entries) if entry.what == "violation")
    early = Played(
        played.entries[:first],
        played.lines[:first],
        played.core,
        log.entries[first].t_us - 15_000,
        {},
        None,
        {},
        frozenset(),
    )
    with pytest.raises(Broken, match="somebody was blamed"):
        checking.check_no_blame(log, early)


@pytest.mark.parametrize(
    ("hasp", "normal", "reverse", "stages"),
    [
        (True, True, False, {Stage.SECURED}),
        (True, False, True, {Stage.IRREGULAR}),
        (True, None, False, {Stage.IRREGULAR}),
        (False, True, False, {Stage.UNLOCKED, Stage.RESTORED}),
        (False, False, True, {Stage.LINED, Stage.IN_USE}),
    ],
)
def test_stages_that_contacts_allow(
    hasp: bool, normal: bool | None, reverse: bool, stages: set[Stage]
) -> None:
    """The rulebook's table of stages, section 4."""
    stands = {"hasp": hasp, "normal": normal, "reverse": reverse}
    assert allowed(stands, locked=True) == stages


def test_no_guess_is_secured() -> None:
    for normal in (True, False, None):
        assert Stage.SECURED not in allowed(
            {"hasp": None, "normal": normal, "reverse": False}, locked=True
        )


def test_an_event_cut_off_in_the_middle_was_not_delivered() -> None:
    whole = [b"event: patch\n", b"id: 7\n", b"data: {}\n", b"\n"]
    assert [tuple(frame) for frame in frames_of(iter(whole))] == [("patch", "7", "{}")]
    assert list(frames_of(iter(whole[:3]))) == []
    assert list(frames_of(iter([*whole[:2], b"data: {"]))) == []
