"""Every kind of entry in plain words, and times as people write them."""

from __future__ import annotations

import argparse
import time
from datetime import datetime
from typing import get_args

import pytest

from firmware_py.commands.log_choice import Choice, moment
from firmware_py.commands.log_words import clock, entry_words, happened, session_words, wall
from firmware_py.core.entries import (
    BrakeTestEntry,
    Entry,
    FaultEntry,
    ForemanEntry,
    OutputEntry,
    PhaseEntry,
    Refused,
    SpeedEntry,
    StageEntry,
    Violation,
)
from firmware_py.core.names import (
    BrakeTest,
    Command,
    Fault,
    Foreman,
    Phase,
    Rule,
    Shows,
    Stage,
)
from firmware_py.logbook.records import EntryRecord, SessionRecord, ViolationRecord
from firmware_py.tape.lines import line_of, what_of

SAID = [
    (StageEntry(0, "mill-switch", Stage.IN_USE), "mill-switch is in use"),
    (PhaseEntry(0, "mill", Phase.OPENING, "mill-flag"), "mill is being opened; next: mill-flag"),
    (PhaseEntry(0, "mill", Phase.IDLE, None), "mill is idle"),
    (ForemanEntry(0, "mill", Foreman.RELEASED), "mill is released"),
    (ForemanEntry(0, "mill", Foreman.NOT_ASKED), "nobody asks for mill any more"),
    (OutputEntry(0, "mill-switch", "red", Shows.FLASHING), "mill-switch: red flashing"),
    (SpeedEntry(0, "approach", 12.345), "approach: 12.35 scale miles per hour"),
    (FaultEntry(0, Fault.LOST, "mill.detector", False), "mill.detector does not answer"),
    (FaultEntry(0, Fault.CHATTERING, "a.hasp", True), "a.hasp chatters; that is over"),
    (
        FaultEntry(0, Fault.POINTS_DISPUTED, "mill-switch", False),
        "mill-switch: both contacts of its points are made",
    ),
    (BrakeTestEntry(0, "mill", BrakeTest.DONE), "brake test of mill is done"),
    (
        BrakeTestEntry(0, "mill", BrakeTest.RUNNING, 3, 17.5),
        "brake test of mill is running: 3 cars, 17.5 s",
    ),
    (Refused(0, Command.RELEASE, "mill", None, "nobody asked"), "release mill: nobody asked"),
    (
        Refused(0, Command.ACKNOWLEDGE, None, 7, "there is none"),
        "acknowledge violation 7: there is none",
    ),
    (
        Violation(0, 3, Rule.OUT_OF_ORDER, "mill-gate", "mill", ("mill-flag", "foreman")),
        "3: out-of-order at mill-gate (spur mill); missing: mill-flag, foreman",
    ),
]


@pytest.mark.parametrize(("entry", "words"), SAID, ids=lambda value: str(value)[:20])
def test_what_happened_in_words(entry: Entry, words: str) -> None:
    assert happened(what_of(entry).value, line_of(entry)) == words


def test_every_kind_of_entry_is_among_them() -> None:
    assert {type(entry) for entry, _ in SAID} == set(get_args(Entry))


@pytest.mark.parametrize("word", [*Stage, *Phase, *Foreman, *Fault, *BrakeTest])
def test_no_word_is_left_out_of_the_tables(word: str) -> None:
    line = {"switch": "x", "stage": word, "spur": "x", "phase": word, "next": None}
    line |= {"is": word, "fault": word, "at": "x", "ended": False}
    kinds = {Stage: "stage", Phase: "phase", Foreman: "foreman", Fault: "fault"}
    said = happened(kinds.get(type(word), "brake-test"), line)
    assert "{" not in said
    assert "  " not in said


def test_a_violation_tells_what_became_of_it() -> None:
    broken = Violation(1, 1, Rule.GATE_FORCED, "mill-gate", "mill", ())
    entry = EntryRecord(1, 1, 1, "violation", "mill-gate", "mill", line_of(broken))
    row = ViolationRecord(
        1, 1, 1, "gate-forced", "mill-gate", "mill", (), 3, 60_000_000, 61_000_000, 'a "late" hand'
    )
    assert entry_words(entry, row).endswith(
        '; 3 times, last at 0:01:00.000; acknowledged at 0:01:01.000 ("a "late" hand")'
    )


def test_a_session_whose_tape_is_not_whole_says_so() -> None:
    session = SessionRecord(4, "Slate Basin", "x", "", False, 0, None, None, {}, "9 were dropped")
    assert "not ended  real pins  Slate Basin  (its tape is not whole: 9" in session_words(session)


def test_times_in_the_session() -> None:
    assert clock(0) == "0:00:00.000"
    assert clock(59_999_600) == "0:01:00.000", "rounding carries"
    assert clock(36_000_000_000 + 61_001_000) == "10:01:01.001"


def test_a_wall_time_beyond_the_calendar() -> None:
    assert wall(2**62) == f"{2**62} us"


@pytest.mark.parametrize(
    ("text", "seconds"),
    [("90", 90), ("90s", 90), ("1.5", 1.5), ("12m", 720), ("1h30m", 5_400), ("1h0m0.25s", 3600.25)],
)
def test_lengths(text: str, seconds: float) -> None:
    assert moment(text).t_us == seconds * 1_000_000


@pytest.mark.parametrize("text", ["", "noon", "25:00", "1m1h", "-3", "2031-02-30", "12:3"])
def test_what_is_no_time(text: str) -> None:
    with pytest.raises(argparse.ArgumentTypeError, match="is no time"):
        moment(text)


@pytest.fixture
def somewhere(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("TZ", "America/Denver")
    time.tzset()


@pytest.mark.parametrize(
    ("began", "text", "day"),
    [
        ("2031-04-07 20:00", "20:15", 7),
        ("2031-04-07 20:00", "00:30", 8),
        ("2031-04-08 00:30", "23:50", 7),
        ("2031-04-08 00:30", "9:05", 8),
    ],
)
@pytest.mark.usefixtures("somewhere")
def test_a_time_without_a_day_is_the_one_nearest_to_the_beginning(
    began: str, text: str, day: int
) -> None:
    began_us = round(datetime.fromisoformat(began).timestamp() * 1_000_000)
    session = SessionRecord(1, "", "", "", True, began_us, None, None, {})
    hour, minute = map(int, text.split(":"))
    at_us = round(datetime(2031, 4, day, hour, minute).timestamp() * 1_000_000)
    chosen = Choice(since=moment(text), until=moment(text)).of(session)
    entries = [EntryRecord(1, 1, at_us + more, "stage", "x", None, {}) for more in (-1, 0, 1)]
    assert [chosen.wants(entry) for entry in entries] == [False, True, False]
