"""Forecasts out of a logbook: what is asked, what is kept, and what the next one learns."""

from __future__ import annotations

import json
import sqlite3
import subprocess
import sys
from collections.abc import Iterator
from contextlib import closing
from pathlib import Path

import msgspec
import pytest
from debrief import debrief_player as player
from debrief.debrief_player import LAYOUT, US
from sqlalchemy import Engine

from firmware_py.commands.main import main
from firmware_py.forecast.answering import answered
from firmware_py.forecast.words import Answer
from firmware_py.logbook.forecasting import Wanted, fact_of, forecast_of, question_of
from firmware_py.logbook.opening import open_engine
from firmware_py.logbook.screen.forecasts import (
    GRACE_US,
    MOST_KEPT,
    Kept,
    for_session,
    forecasts_of,
    keep_forecast,
    last_forecast,
)
from firmware_py.logbook.screen.jobs import jobs_of
from firmware_py.logbook.screen.settings import change

DAY_US = 86_400 * US
FIRST_US = 1_800_000_000 * US
QUICK = Wanted(60.0, evenings=100)


@pytest.fixture(scope="module")
def played(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A logbook of five evenings, without any forecast."""
    path = tmp_path_factory.mktemp("played") / "logbook.sqlite"
    player.keep_jobs(str(path))
    for index in range(5):
        player.evening_of_jobs(str(path), FIRST_US + index * DAY_US, index + 1, slips=0.0)
    return path


@pytest.fixture
def logbook(played: Path, tmp_path: Path) -> Path:
    """A copy of it."""
    copy = tmp_path / "logbook.sqlite"
    with closing(sqlite3.connect(played)) as source, closing(sqlite3.connect(copy)) as target:
        source.backup(target)
    return copy


@pytest.fixture
def engine(logbook: Path) -> Iterator[Engine]:
    engine = open_engine(str(logbook))
    yield engine
    engine.dispose()


@pytest.fixture(scope="module")
def answer(played: Path) -> Answer:
    engine = open_engine(str(played))
    try:
        return answered(question_of(engine, LAYOUT, QUICK))
    finally:
        engine.dispose()


def test_the_question_holds_what_the_logbook_knows(engine: Engine) -> None:
    asked = question_of(engine, LAYOUT, QUICK)
    assert [job.name for job in asked.jobs] == ["Morning turn", "Foundry turn"]
    assert asked.crews == 2
    assert [one.session for one in asked.past] == sorted(one.session for one in asked.past)
    assert len({one.session for one in asked.past}) == 5
    assert {one.crew for one in asked.past} == {"amber crew", "slate crew"}
    assert [one.rounds_before for one in asked.past if one.crew == "slate crew"][::3] == [
        0, 3, 6, 9, 12,
    ]  # fmt: skip
    assert all(one.cars for one in asked.past)
    assert asked.rounds_of_crews == {"amber crew": 10, "slate crew": 15}
    assert sum(one.answer_s is not None for one in asked.past) >= 12
    assert sum(one.start_s is not None for one in asked.past) >= 5
    assert sum(one.travel_s is not None for one in asked.past) >= 10
    assert asked.scales == (0.5, 1.0, 2.45, 6.0)


def test_the_dial_as_set_is_asked_for(engine: Engine) -> None:
    assert question_of(engine, LAYOUT, QUICK).wait_scale == 1.0
    change(engine, "pace-dial", "6.0")
    assert question_of(engine, LAYOUT, QUICK).wait_scale == 6.0
    assert question_of(engine, LAYOUT, Wanted(wait_scale=2.0)).wait_scale == 2.0


def test_a_session_that_goes_on_teaches_nothing_yet(logbook: Path) -> None:
    player.evening_of_jobs(str(logbook), FIRST_US + 6 * DAY_US, 9, ends=False)
    engine = open_engine(str(logbook))
    assert len({one.session for one in question_of(engine, LAYOUT, QUICK).past}) == 5
    engine.dispose()


def test_the_forecast_is_for_the_session_that_comes_next(engine: Engine, answer: Answer) -> None:
    before = FIRST_US + 2 * DAY_US - 3_600 * US
    keep_forecast(engine, LAYOUT.name, answer, before)
    kept = forecast_of(engine, LAYOUT.name, 3)
    assert kept is not None
    assert kept.answer == answer
    assert forecast_of(engine, LAYOUT.name, 2) is None
    assert forecast_of(engine, LAYOUT.name, 4) is None
    assert forecast_of(engine, "Elsewhere", 3) is None
    fact = fact_of(engine, LAYOUT, 3, kept.answer)
    assert fact is not None
    assert fact.whole_s is not None
    assert 0 < fact.whole_s <= fact.until_s
    assert set(fact.ended) == {1, 2}


def test_what_came_of_it_is_the_next_ones_lesson(engine: Engine, answer: Answer) -> None:
    early = msgspec.structs.replace(
        answer, whole=msgspec.structs.replace(answer.whole, raw=tuple(map(float, range(1, 100))))
    )
    for index in range(5):
        keep_forecast(engine, LAYOUT.name, early, FIRST_US + index * DAY_US - US)
    asked = question_of(engine, LAYOUT, QUICK)
    assert len(asked.places) == 5
    assert min(asked.places) > 0.98  # Each evening took longer than the 99 s forecast at most.
    taught = answered(asked)
    assert taught.lessons == 5
    assert taught.whole.middle.value > answer.whole.middle.value


def test_a_newer_forecast_takes_the_place_of_one_that_no_session_had(
    engine: Engine, answer: Answer
) -> None:
    late = FIRST_US + 9 * DAY_US
    for at in (0, US):
        keep_forecast(engine, LAYOUT.name, answer, late + at)
    assert [one.wall_us for one in forecasts_of(engine, LAYOUT.name)] == [late + US]
    last = last_forecast(engine, LAYOUT.name)
    assert last is not None
    assert last.wall_us == late + US


def test_only_so_many_are_kept(engine: Engine, answer: Answer) -> None:
    for index in range(MOST_KEPT + 5):
        keep_forecast(engine, LAYOUT.name, answer, index)  # Before any session: none is replaced.
    assert len(forecasts_of(engine, LAYOUT.name)) == MOST_KEPT


def test_which_forecast_is_a_sessions(answer: Answer) -> None:
    kept = [Kept(at, at * GRACE_US, answer) for at in range(1, 9)]
    assert for_session(kept, 4 * GRACE_US, None) == kept[4]
    assert for_session(kept, 4 * GRACE_US, 3 * GRACE_US) == kept[4]
    assert for_session(kept, 4 * GRACE_US, 4 * GRACE_US) is None
    assert for_session([], 1, None) is None


def test_one_of_another_version_is_passed_over(logbook: Path, engine: Engine) -> None:
    with closing(sqlite3.connect(logbook)) as database, database:
        row = (LAYOUT.name, 5, '{"minutes": "many"}')
        database.execute(
            "INSERT INTO forecast (layout_name, wall_us, answer) VALUES (?, ?, ?)", row
        )
    assert forecasts_of(engine, LAYOUT.name) == []
    assert question_of(engine, LAYOUT, QUICK).places == ()


# The command.


def told(capsys: pytest.CaptureFixture[str], *arguments: str) -> tuple[int, str, str]:
    status = main(["forecast", *arguments])
    said = capsys.readouterr()
    return status, said.out, said.err


def test_the_command_says_it_in_a_table(
    logbook: Path, engine: Engine, capsys: pytest.CaptureFixture[str]
) -> None:
    asked = ("--minutes", "30", "--evenings", "100", "--keep")
    status, out, err = told(capsys, str(logbook), *asked)
    assert (status, err) == (0, "")
    for words in (
        "everything",
        "Morning turn",
        "Foundry turn",
        "x 6",
        "From 5 sessions",
        "For 80 %",
    ):
        assert words in out
    assert max(map(len, out.splitlines())) <= 100
    assert last_forecast(engine, LAYOUT.name) is not None


def test_the_command_gives_json(logbook: Path, capsys: pytest.CaptureFixture[str]) -> None:
    status, out, _ = told(capsys, str(logbook), "--evenings", "60", "--as", "json", "--crews", "1")
    assert status == 0
    given = msgspec.convert(json.loads(out), Answer)
    assert (given.crews, given.evenings) == (1, 60)


@pytest.mark.parametrize(
    ("arguments", "says"),
    [
        (("--crews", "0"), "the number of crews is 0; give 1 to 50"),
        (("--minutes", "0"), "the evening's minutes is 0"),
        (("--minutes", "inf"), "the evening's minutes is inf"),
        (("--waits", "inf"), "the pace dial is inf"),
        (("--waits", "nan"), "the pace dial is nan"),
        (("--chance", "200"), "the chance wanted is 2"),
        (("--evenings", "1"), "the number of evenings is 1"),
        (("--seed", "-4"), "the seed is -4"),
    ],
)
def test_the_command_refuses_hostile_numbers(
    logbook: Path, capsys: pytest.CaptureFixture[str], arguments: tuple[str, ...], says: str
) -> None:
    status, out, err = told(capsys, str(logbook), *arguments)
    assert (status, out) == (2, "")
    assert says in err


def test_the_command_needs_a_logbook_with_a_layout_and_jobs(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert told(capsys, str(tmp_path / "none.sqlite"))[0] == 2
    empty = tmp_path / "empty.sqlite"
    open_engine(str(empty)).dispose()
    assert "no layout was guarded" in told(capsys, str(empty))[2]
    played = player.Evening(str(empty), FIRST_US)
    played.wait(5)
    played.end()
    assert "there is no job to forecast" in told(capsys, str(empty))[2]


def test_a_layout_without_a_log_is_forecast_from_estimates(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    path = str(tmp_path / "new.sqlite")
    player.keep_jobs(path)
    evening = player.Evening(path, FIRST_US, opened=False)
    evening.wait(5)
    evening.end()
    status, out, _ = told(capsys, path, "--evenings", "60")
    assert status == 0
    assert "all step times are estimates" in out
    engine = open_engine(path)
    assert len(jobs_of(engine, LAYOUT.name)) == 2
    engine.dispose()


def test_the_console_script_loads_no_arithmetic_before_it_forecasts() -> None:
    text = (
        "import sys; import firmware_py.commands.main as m; m.parser(); import web.app, "
        "firmware_py.engine.assembly; "
        "print([name for name in ('numpy', 'scipy', 'simpy') if name in sys.modules])"
    )
    done = subprocess.run(
        [sys.executable, "-c", text], capture_output=True, check=True, timeout=100
    )
    assert done.stdout.strip() == b"[]"
