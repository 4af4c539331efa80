"""``spurlock log`` and ``spurlock restore``, on logbooks that the real keeper wrote."""

from __future__ import annotations

import csv
import json
from datetime import date, datetime
from io import StringIO
from pathlib import Path

import pytest

from firmware_py.commands.main import main
from firmware_py.core.core import Core
from firmware_py.core.entries import Entry
from firmware_py.layout.reading import parse_layout
from firmware_py.logbook.backing_up import back_up, backup_of, backups, is_due, rotate
from firmware_py.logbook.opening import open_engine
from firmware_py.logbook.writing import Keeper

TAPES = Path(__file__).parent.parent / "tapes"
LAYOUT = (TAPES / "quarry-landing.toml").read_text("utf-8")
FORCED = [("kiln-switch.normal", 5_000_000, False), ("kiln-switch.reverse", 5_800_000, True)]


def write_session(path: Path) -> list[Entry]:
    """A session in which somebody forced the points; the answer is what the core said."""
    engine = open_engine(str(path))
    keeper = Keeper(engine)
    core = Core(parse_layout(LAYOUT, "quarry-landing.toml"))
    keeper.begin_session(
        layout_name="Quarry Landing",
        layout_path="quarry-landing.toml",
        layout_toml=LAYOUT,
        simulated=True,
        outset={},
    )
    said: list[Entry] = []
    for contact, t_us, made in FORCED:
        said += core.reading(t_us, contact, made)
        keeper.tape(t_us, contact, made)
    said += core.advance(20_000_000)
    for entry in said:
        keeper.entry(entry, 1_900_000_000_000_000 + entry.t_us)
    keeper.end_session(20_000_000)
    assert keeper.close()
    engine.dispose()
    return said


@pytest.fixture
def logbook(tmp_path: Path) -> Path:
    path = tmp_path / "evening.sqlite"
    write_session(path)
    return path


def test_text_tells_each_entry(logbook: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["log", str(logbook)]) == 0
    lines = capsys.readouterr().out.splitlines()
    assert lines == [
        "0:00:05.020  stage       kiln-switch is irregular",
        "0:00:05.020  violation   1: moved-while-locked at kiln-switch (spur kiln)",
    ]


@pytest.mark.parametrize(
    ("options", "kept"),
    [
        (["--what", "violation"], ["violation"]),
        (["--rule", "moved-while-locked"], ["violation"]),
        (["--rule", "over-speed"], []),
        (["--what", "violation,stage"], ["stage", "violation"]),
        (["--spur", "kiln"], ["stage", "violation"]),
        (["--since", "6"], []),
        (["--since", "0m5.02s"], ["stage", "violation"]),
        (["--until", "6"], ["stage", "violation"]),
        (["--until", "5.0"], []),
        (["--since", "2030-03-17"], ["stage", "violation"]),
        (["--until", "2030-03-17"], []),
    ],
)
def test_filters(
    logbook: Path, capsys: pytest.CaptureFixture[str], options: list[str], kept: list[str]
) -> None:
    assert main(["log", str(logbook), "--as", "json", *options]) == 0
    lines = [json.loads(line) for line in capsys.readouterr().out.splitlines()]
    assert [line["what"] for line in lines] == kept


def test_the_tape_replays_to_what_was_logged(
    logbook: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """Rulebook section 10, from the outside: both through the console script."""
    tape = tmp_path / "evening.jsonl"
    assert main(["log", str(logbook), "--as", "tape", "--out", str(tape)]) == 0
    assert main(["log", str(logbook), "--as", "json"]) == 0
    logged = capsys.readouterr().out
    assert main(["replay", str(TAPES / "quarry-landing.toml"), str(tape)]) == 0
    assert capsys.readouterr().out == logged
    assert logged


def test_csv_has_a_head_and_a_row_for_each_entry(
    logbook: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert main(["log", str(logbook), "--as", "csv"]) == 0
    rows = list(csv.DictReader(StringIO(capsys.readouterr().out)))
    assert [row["what"] for row in rows] == ["stage", "violation"]
    assert json.loads(rows[1]["line"])["rule"] == "moved-while-locked"


def test_sessions_are_listed(logbook: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["log", str(logbook), "--sessions"]) == 0
    [line] = capsys.readouterr().out.splitlines()
    assert "Quarry Landing" in line
    assert "lasted 0:00:20.000" in line


@pytest.mark.parametrize(
    ("options", "problem"),
    [
        (["--session", "9"], "there is no session 9"),
        (["--out", "EXISTS"], "this file exists"),
        (["--spur", "elsewhere"], "no spur 'elsewhere'; it has kiln"),
        (["--as", "tape", "--spur", "kiln"], "a tape is whole or it does not replay"),
        (["--as", "tape", "--follow"], "a tape is whole"),
    ],
)
def test_what_cannot_be_done_is_said(
    logbook: Path, capsys: pytest.CaptureFixture[str], options: list[str], problem: str
) -> None:
    there = [str(logbook) if option == "EXISTS" else option for option in options]
    assert main(["log", str(logbook), *there]) == 2
    told = capsys.readouterr()
    assert told.out == ""
    assert problem in told.err
    assert len(told.err.splitlines()) == 1


@pytest.mark.parametrize(
    ("options", "problem"),
    [
        (["--what", "stages"], "there is no kind 'stages'"),
        (["--rule", "speeding"], "there is no rule 'speeding'"),
        (["--since", "noon"], "'noon' is no time; give 90, 12m"),
        (["--prune-days", "-1"], "no number of days"),
        (["--sessions", "--verify"], "not allowed with"),
    ],
)
def test_words_that_mean_nothing_are_said(
    logbook: Path, capsys: pytest.CaptureFixture[str], options: list[str], problem: str
) -> None:
    with pytest.raises(SystemExit):
        main(["log", str(logbook), *options])
    assert problem in capsys.readouterr().err


def test_no_logbook_is_no_traceback(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["log", str(tmp_path / "nowhere.sqlite")]) == 2
    assert len(capsys.readouterr().err.splitlines()) == 1
    assert not (tmp_path / "nowhere.sqlite").exists(), "reading makes no file"


def test_a_backup_is_restored_and_what_was_there_is_set_aside(
    logbook: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    engine = open_engine(str(logbook))
    backup = back_up(engine, date(2031, 4, 7))
    engine.dispose()
    write_session(logbook)
    assert main(["restore", str(logbook), str(backup), "--yes"]) == 0
    told = capsys.readouterr().out
    assert "1 session" in told
    assert "2 sessions" in told
    assert main(["log", str(logbook), "--sessions"]) == 0
    assert len(capsys.readouterr().out.splitlines()) == 1
    assert any("replaced" in path.name for path in logbook.parent.iterdir())


def test_no_answer_replaces_nothing(
    logbook: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    engine = open_engine(str(logbook))
    backup = back_up(engine, date(2031, 4, 7))
    engine.dispose()
    monkeypatch.setattr("builtins.input", lambda _question: "no")
    before = logbook.read_bytes()
    assert main(["restore", str(logbook), str(backup)]) == 1
    assert logbook.read_bytes() == before
    assert "Nothing was replaced" in capsys.readouterr().out


def test_a_damaged_backup_is_refused(
    logbook: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    damaged = tmp_path / "damaged.sqlite"
    damaged.write_bytes(b"not a database at all, though it is long enough to be read as one" * 99)
    assert main(["restore", str(logbook), str(damaged), "--yes"]) == 2
    assert "damaged.sqlite" in capsys.readouterr().err


def test_backups_are_made_once_a_day_and_rotated(logbook: Path) -> None:
    """Seven days, and one of each of the four weeks before: common practice, no source."""
    assert not is_due(logbook, datetime(2031, 4, 7, 2, 59))
    assert is_due(logbook, datetime(2031, 4, 7, 3, 0))
    engine = open_engine(str(logbook))
    days = [date.fromordinal(date(2031, 2, 1).toordinal() + n) for n in range(66)]
    back_up(engine, days[-1])
    engine.dispose()
    assert not is_due(logbook, datetime(2031, 4, 7, 23, 0))
    for day in days[:-1]:
        backup_of(logbook, day).write_bytes(b"a day's backup")
    rotate(logbook, days[-1])
    kept = list(backups(logbook))
    assert kept[-7:] == days[-7:]
    weeks = {day.isocalendar()[:2] for day in kept[:-7]}
    assert len(kept) == 11
    assert len(weeks) == 4
