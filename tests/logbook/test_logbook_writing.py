"""What the keeper writes, and in what order it is there."""

from __future__ import annotations

import json
from collections.abc import Callable

import pytest
from sqlalchemy import Engine, event, text

from firmware_py.core import entries as core
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
from firmware_py.logbook.errors import LogbookError
from firmware_py.logbook.reading import Reader
from firmware_py.logbook.writing import Keeper
from firmware_py.tape.lines import line_of, what_of


def stage(t_us: int, switch: str = "mill-switch") -> core.StageEntry:
    return core.StageEntry(t_us, switch, Stage.UNLOCKED)


def violation(number: int, t_us: int = 5) -> core.Violation:
    return core.Violation(
        t_us, number, Rule.OUT_OF_ORDER, "mill-gate", "mill", ("foreman", "mill-flag")
    )


def counted(engine: Engine, table: str) -> int:
    with engine.connect() as connection:
        return int(connection.execute(text(f"SELECT count(*) FROM {table}")).scalar_one())


def commits(engine: Engine) -> list[object]:
    seen: list[object] = []
    event.listen(engine, "commit", seen.append)
    return seen


def test_a_session(keeper: Keeper, session: int, reader: Reader) -> None:
    found = reader.session()
    assert found is not None
    assert (found.id, found.layout_name, found.simulated) == (session, "Slate Basin", True)
    assert found.outset == {"stages": {"mill-switch": "secured"}}
    assert (found.began_wall_us, found.ended_wall_us, found.ended_t_us) == (1_000_000, None, None)
    keeper.end_session(9_000)
    assert keeper.flush()
    ended = reader.session()
    assert ended is not None
    assert (ended.ended_wall_us, ended.ended_t_us) == (1_000_001, 9_000)


def test_a_new_session_is_the_newest_and_forgets_how_contacts_stood(
    keeper: Keeper, session: int, reader: Reader, begin: Callable[[Keeper], int]
) -> None:
    keeper.standing("mill.detector", True, True, 3, 7)
    keeper.flush()
    assert set(reader.standing()) == {"mill.detector"}
    second = begin(keeper)
    assert second > session
    assert keeper.session_id == second
    assert [found.id for found in reader.sessions()] == [second, session]
    assert reader.standing() == {}


ENTRIES: list[tuple[core.Entry, str | None, str | None]] = [
    (core.Refused(1, Command.RELEASE, "mill", None, "nobody asked"), "mill", "mill"),
    (core.Refused(1, Command.ACKNOWLEDGE, None, 7, "no such violation"), None, None),
    (core.FaultEntry(2, Fault.LOST, "mill.detector", False), "mill.detector", None),
    (core.SpeedEntry(3, "approach", 9.8712), "approach", None),
    (core.ForemanEntry(4, "mill", Foreman.ASKED), "mill", "mill"),
    (core.BrakeTestEntry(5, "mill", BrakeTest.RUNNING, 3, 17_528_000), "mill", "mill"),
    (core.StageEntry(6, "mill-switch", Stage.LINED), "mill-switch", None),
    (violation(1, 7), "mill-gate", "mill"),
    (core.PhaseEntry(8, "mill", Phase.OPENING, "mill-flag"), "mill", "mill"),
    (core.OutputEntry(9, "mill-switch", "red", Shows.FLASHING), "mill-switch", None),
]


def test_every_kind_of_entry(keeper: Keeper, session: int, reader: Reader) -> None:
    for entry, _, _ in ENTRIES:
        keeper.entry(entry, 100 + entry.t_us)
    keeper.flush()
    found = reader.entries(session)
    assert [record.line for record in found] == [line_of(entry) for entry, _, _ in ENTRIES]
    assert [record.what for record in found] == [what_of(entry) for entry, _, _ in ENTRIES]
    assert [(record.at, record.spur) for record in found] == [(a, s) for _, a, s in ENTRIES]
    assert all(record.wall_us == 100 + record.t_us for record in found)


def test_a_violation_from_first_to_acknowledged(
    keeper: Keeper, session: int, reader: Reader
) -> None:
    keeper.entry(violation(1, 7), 70)
    keeper.entry(violation(2, 8), 80)
    keeper.repeat(1, 2, 9)
    keeper.repeat(1, 3, 10)
    keeper.acknowledged(1, 11, "flagged by hand")
    keeper.flush()
    second, first = reader.violations(session)
    assert (first.number, first.times, first.last_t_us) == (1, 3, 10)
    assert (first.acknowledged_t_us, first.note) == (11, "flagged by hand")
    assert (first.t_us, first.wall_us, first.rule) == (7, 70, "out-of-order")
    assert first.missing == ("foreman", "mill-flag")
    assert (second.times, second.last_t_us, second.acknowledged_t_us) == (1, 8, None)


def test_violations_count_anew_in_each_session(
    keeper: Keeper, session: int, reader: Reader, begin: Callable[[Keeper], int]
) -> None:
    keeper.entry(violation(1), 1)
    second = begin(keeper)
    keeper.entry(violation(1), 2)
    keeper.acknowledged(1, 3)
    keeper.flush()
    assert reader.violations(session)[0].acknowledged_t_us is None
    assert reader.violations(second)[0].acknowledged_t_us == 3


def test_only_the_latest_standing_and_pulse_count(
    keeper: Keeper, session: int, reader: Reader
) -> None:
    keeper.standing("mill.detector", True, None, 1, 10)
    keeper.standing("mill-switch.hasp", None, None, 0, 11)
    keeper.standing("mill.detector", False, True, 2, 12)
    keeper.pulse("starting")
    keeper.flush()
    keeper.pulse("guarding")
    keeper.flush()
    standing = reader.standing()["mill.detector"]
    assert (standing.raw, standing.settled, standing.edges) == (False, True, 2)
    assert reader.standing()["mill-switch.hasp"].raw is None
    pulse = reader.pulse()
    assert pulse is not None
    assert (pulse.beat, pulse.state, pulse.session_id) == (2, "guarding", session)


def test_the_pulse_goes_on_from_an_earlier_engines(
    engine: Engine, keeper: Keeper, reader: Reader
) -> None:
    keeper.pulse("guarding")
    keeper.close()
    again = Keeper(engine)
    again.pulse("starting")
    again.close()
    pulse = reader.pulse()
    assert pulse is not None
    assert (pulse.beat, pulse.state, pulse.session_id) == (2, "starting", None)


def test_remarks_before_and_in_a_session(
    keeper: Keeper, begin: Callable[[Keeper], int], reader: Reader
) -> None:
    keeper.remark("started")
    session = begin(keeper)
    keeper.remark("delay drawn: 31 s", 42)
    keeper.flush()
    assert [(r.session_id, r.t_us, r.text) for r in reader.remarks()] == [
        (session, 42, "delay drawn: 31 s"),
        (None, None, "started"),
    ]
    assert [r.text for r in reader.remarks(session)] == ["delay drawn: 31 s"]
    assert [r.text for r in reader.remarks(limit=1)] == ["delay drawn: 31 s"]


def test_readings_and_standing_wait_for_something_that_does_not(
    engine: Engine, keeper: Keeper, session: int
) -> None:
    done = commits(engine)
    for t_us in range(30):
        keeper.tape(t_us, "mill.detector", bool(t_us % 2))
    keeper.standing("mill.detector", True, True, 30, 1)
    assert counted(engine, "tape") == 0
    keeper.entry(stage(31), 1)
    keeper.flush()
    assert counted(engine, "tape") == 30
    assert counted(engine, "standing") == 1
    assert len(done) == 1


def test_an_order_does_not_wait(engine: Engine, keeper: Keeper, session: int) -> None:
    done = commits(engine)
    keeper.tape(1, "mill.detector", True)
    keeper.tape(2, command="ask", spur="mill")
    keeper.flush()
    assert counted(engine, "tape") == 2
    assert len(done) == 1


def test_readings_alone_are_written_once_their_time_is_over(
    engine: Engine, begin: Callable[[Keeper], int]
) -> None:
    """No flush and no entry: only the wait makes these be written (guard: a minute)."""
    keeper = Keeper(engine, group_s=0.01)
    begin(keeper)
    keeper.tape(1, "mill.detector", True)
    while counted(engine, "tape") == 0:
        pass  # The whole test run's time limit is the guard.
    keeper.close()


def test_ids_follow_the_order_in_which_things_were_told(
    keeper: Keeper, session: int, reader: Reader
) -> None:
    told = [stage(t_us, f"switch-{t_us % 7}") for t_us in range(500)]
    for entry in told:
        keeper.entry(entry, entry.t_us)
    keeper.flush()
    found = reader.entries(session)
    assert [record.t_us for record in found] == list(range(500))
    assert [record.id for record in found] == sorted(record.id for record in found)


def test_closing_writes_what_is_left(engine: Engine, keeper: Keeper, session: int) -> None:
    keeper.tape(1, "mill.detector", True)
    keeper.standing("mill.detector", True, True, 1, 1)
    assert keeper.close()
    assert (counted(engine, "tape"), counted(engine, "standing")) == (1, 1)


def test_a_closed_keeper_takes_nothing(keeper: Keeper, session: int) -> None:
    assert keeper.close()
    tellings: list[Callable[[], None]] = [
        lambda: keeper.entry(stage(1), 1),
        lambda: keeper.tape(1, "mill.detector", True),
        lambda: keeper.standing("mill.detector", True, True, 1, 1),
        lambda: keeper.pulse("stopped"),
        lambda: keeper.remark("late"),
    ]
    for late in tellings:
        with pytest.raises(LogbookError, match="closed; nothing more is taken"):
            late()


def test_an_entry_needs_a_session(keeper: Keeper) -> None:
    with pytest.raises(LogbookError, match="no session has begun; begin one first"):
        keeper.entry(stage(1), 1)


def test_text_of_any_script_comes_back_as_it_was(
    keeper: Keeper, session: int, reader: Reader
) -> None:
    said = "Weiche 3 «ключ» 鍵 🔑 % ? :x 'quoted' \"twice\"\n"
    keeper.entry(core.Refused(1, Command.ASK, "moulin-à-grès", None, said), 1)
    keeper.remark(said)
    keeper.flush()
    assert reader.entries(session)[0].line["why"] == said
    assert reader.entries(session)[0].spur == "moulin-à-grès"
    assert reader.remarks(session)[0].text == said


def test_text_that_no_database_takes_is_mended(
    keeper: Keeper, session: int, reader: Reader
) -> None:
    keeper.entry(violation(1), 1)
    keeper.acknowledged(1, 2, "half \ud83d of a sign, a whole \U0001f511 one, and \0 none")
    keeper.flush()
    note = reader.violations(session)[0].note
    assert note == "half \ufffd of a sign, a whole \U0001f511 one, and \ufffd none"


def test_missing_is_kept_as_json(engine: Engine, keeper: Keeper, session: int) -> None:
    keeper.entry(violation(1), 1)
    keeper.flush()
    with engine.connect() as connection:
        row = connection.execute(text("SELECT missing FROM violation")).one()
    assert json.loads(row.missing) == ["foreman", "mill-flag"]
