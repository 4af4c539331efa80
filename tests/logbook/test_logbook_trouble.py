"""When the database can't be written: what is kept, what is dropped, what is said of it."""

from __future__ import annotations

from collections.abc import Callable
from contextlib import AbstractContextManager

import pytest
from sqlalchemy import Engine, event, text

from firmware_py.core.entries import StageEntry, Violation
from firmware_py.core.names import Rule, Stage
from firmware_py.logbook.errors import LogbookError
from firmware_py.logbook.reading import Reader
from firmware_py.logbook.requests import leave_order
from firmware_py.logbook.writing import Keeper

Locked = Callable[[], AbstractContextManager[None]]


def stage(t_us: int) -> StageEntry:
    return StageEntry(t_us, "mill-switch", Stage.UNLOCKED)


def wait_for_error(keeper: Keeper) -> str:
    """Spin until the writer has failed once; the run's own time limit is the guard."""
    while (error := keeper.health().last_error) is None:
        pass
    return error


def counted(engine: Engine, table: str) -> int:
    with engine.connect() as connection:
        return int(connection.execute(text(f"SELECT count(*) FROM {table}")).scalar_one())


def test_a_locked_database_costs_raw_readings_only(
    engine: Engine, keeper: Keeper, session: int, reader: Reader, locked: Locked
) -> None:
    request = leave_order(engine, "ask", spur="mill", wall_us=1)
    with locked():
        for t_us in range(1_000):
            keeper.tape(t_us, "mill.detector", bool(t_us % 2))
        for t_us in range(1_000, 1_200):
            keeper.entry(stage(t_us), t_us)
        keeper.entry(Violation(1_200, 1, Rule.GATE_FORCED, "mill-gate", "mill", ()), 1)
        keeper.answer(request, False, "nobody asked")
        keeper.tape(1_201, command="ask", spur="mill")
        assert "keeps it locked" in wait_for_error(keeper)
        assert keeper.health().drops == 900
        assert keeper.health().queued == 100 + 200 + 3
        assert not keeper.flush(timeout=0.01)
        assert reader.entries(session) == []
    assert keeper.flush()
    assert counted(engine, "tape") == 100 + 1
    assert [e.t_us for e in reader.entries(session)] == list(range(1_000, 1_201))
    assert reader.violations(session)[0].at == "mill-gate"
    answer = reader.request(request)
    assert (answer.accepted, answer.why) == (False, "nobody asked")


def test_trouble_that_is_over_is_told_in_a_remark(
    keeper: Keeper, session: int, reader: Reader, locked: Locked
) -> None:
    with locked():
        for t_us in range(105):
            keeper.tape(t_us, "mill.detector", True)
        keeper.entry(stage(200), 1)
        wait_for_error(keeper)
    keeper.close()
    [remark] = reader.remarks(session)
    assert "could not be written for" in remark.text
    assert "locked" in remark.text
    assert "5 raw readings were dropped, so the session's tape has a gap" in remark.text
    assert keeper.health().last_error is None
    assert keeper.health().queued == 0


def test_what_gathers_while_locked_is_committed_together(
    engine: Engine, keeper: Keeper, session: int, locked: Locked
) -> None:
    done: list[object] = []
    event.listen(engine, "commit", done.append)
    with locked():
        for t_us in range(500):
            keeper.entry(stage(t_us), 1)
        wait_for_error(keeper)
    keeper.flush()
    assert counted(engine, "entry") == 500
    assert len(done) <= 4  # What was in hand, the rest, and the remark on the trouble.


def test_pulses_and_standing_do_not_pile_up(
    keeper: Keeper, session: int, reader: Reader, locked: Locked
) -> None:
    with locked():
        keeper.entry(stage(1), 1)
        wait_for_error(keeper)
        for edges in range(1_000):
            keeper.pulse("guarding")
            keeper.standing("mill.detector", True, True, edges, edges)
        assert keeper.health().queued == 3
    keeper.flush()
    assert reader.standing()["mill.detector"].edges == 999


def test_a_session_that_can_not_begin_says_why(
    keeper: Keeper, begin: Callable[[Keeper], int], reader: Reader, locked: Locked
) -> None:
    with locked(), pytest.raises(LogbookError, match=r"session can't begin: .*locked"):
        keeper.begin_session(
            layout_name="x",
            layout_path="x",
            layout_toml="",
            simulated=True,
            outset={},
            timeout=0.2,
        )
    assert keeper.session_id is None
    session = begin(keeper)
    assert [found.id for found in reader.sessions()] == [session]


def test_closing_under_a_lock_gives_up_and_says_so(
    keeper: Keeper, session: int, locked: Locked
) -> None:
    with locked():
        keeper.entry(stage(1), 1)
        assert not keeper.close(timeout=0.1)


def test_a_full_disk_loses_nothing(engine: Engine, keeper: Keeper, session: int) -> None:
    """SQLite's own page limit stands in for the disk: it raises the same "is full"."""
    with engine.connect() as connection:
        pages = int(connection.exec_driver_sql("PRAGMA page_count").scalar_one())

    def limit(_connection: object, cursor: object, *_more: object) -> None:
        if full:
            cursor.execute(f"PRAGMA max_page_count = {pages}")  # type: ignore[attr-defined] # sqlite3's

    def lift(_connection: object, cursor: object, *_more: object) -> None:
        if not full:
            cursor.execute("PRAGMA max_page_count = 1000000")  # type: ignore[attr-defined] # sqlite3's

    full = True
    event.listen(engine, "before_cursor_execute", limit)
    event.listen(engine, "before_cursor_execute", lift)
    for t_us in range(2_000):
        keeper.entry(stage(t_us), 1)
    assert "free some space" in wait_for_error(keeper)
    full = False
    assert keeper.flush()
    assert counted(engine, "entry") == 2_000


def test_a_record_that_no_database_takes_does_not_hold_up_the_rest(
    keeper: Keeper, session: int, reader: Reader
) -> None:
    keeper.tape(1, "mill.detector", True)
    keeper.answer(2**70, True)
    keeper.entry(stage(2), 1)
    keeper.flush()
    keeper.flush()
    assert [entry.t_us for entry in reader.entries(session)] == [2]
    health = keeper.health()
    assert (health.set_aside, health.queued, health.last_error) == (1, 0, None)
    [remark] = reader.remarks(session)
    assert str(2**70) in remark.text


def test_a_violation_told_twice_is_set_aside(keeper: Keeper, session: int, reader: Reader) -> None:
    broken = Violation(1, 1, Rule.GATE_FORCED, "mill-gate", "mill", ())
    for _ in range(2):
        keeper.entry(broken, 1)
    keeper.entry(stage(3), 1)
    keeper.flush()
    keeper.flush()
    assert [entry.t_us for entry in reader.entries(session)] == [1, 3]
    assert keeper.health().set_aside == 1
