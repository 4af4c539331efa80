"""What the screen reads, and how it notices that there is something to read."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import pytest
from sqlalchemy import Engine

from firmware_py.core.entries import OutputEntry, StageEntry
from firmware_py.core.names import Shows, Stage
from firmware_py.logbook.errors import LogbookError
from firmware_py.logbook.reading import Reader
from firmware_py.logbook.requests import leave_hand, leave_order
from firmware_py.logbook.watching import Watch
from firmware_py.logbook.writing import Keeper


def fill(keeper: Keeper, count: int) -> None:
    for t_us in range(count):
        keeper.entry(StageEntry(t_us, "mill-switch", Stage.LINED), t_us)
        keeper.entry(OutputEntry(t_us, "mill-switch", "red", Shows.STEADY), t_us)
    assert keeper.flush()


def test_an_empty_logbook(reader: Reader) -> None:
    assert reader.session() is None
    assert reader.sessions() == []
    assert reader.pulse() is None
    assert reader.standing() == {}
    assert reader.remarks() == []
    assert reader.entries(1) == []
    assert reader.violations(1) == []


def test_entries_in_pages_without_a_gap(keeper: Keeper, session: int, reader: Reader) -> None:
    fill(keeper, 25)
    pages, after = [], 0
    while page := reader.entries(session, after, limit=7):
        pages.append(len(page))
        after = page[-1].id
    assert pages == [7] * 7 + [1]


def test_entries_of_some_kinds(keeper: Keeper, session: int, reader: Reader) -> None:
    fill(keeper, 5)
    assert {e.what for e in reader.entries(session, kinds={"stage"})} == {"stage"}
    assert len(reader.entries(session, kinds=["stage", "output"])) == 10
    assert reader.entries(session, kinds=[]) == []


def test_the_newest_entries(keeper: Keeper, session: int, reader: Reader) -> None:
    fill(keeper, 5)
    assert [e.t_us for e in reader.newest_entries(session, 2, ["stage"])] == [4, 3]


def test_entries_of_one_session_only(keeper: Keeper, session: int, reader: Reader) -> None:
    fill(keeper, 1)
    assert reader.entries(session + 1) == []


def test_a_request_that_was_never_left(reader: Reader) -> None:
    with pytest.raises(LogbookError, match="there is no request 77"):
        reader.request(77)


def test_a_change_is_noticed_once(engine: Engine, keeper: Keeper, reader: Reader) -> None:
    assert reader.changed()
    assert not reader.changed()
    keeper.pulse("guarding")
    keeper.flush()
    assert reader.changed()
    assert not reader.changed()
    leave_order(engine, "ask", spur="mill", wall_us=1)
    assert reader.changed()


def test_listeners_share_one_version(keeper: Keeper, reader: Reader) -> None:
    first = second = reader.version()
    keeper.remark("something")
    keeper.flush()
    assert reader.version() > first
    assert reader.version() > second
    assert reader.version() == reader.version()


def test_after_closing_the_next_look_counts_as_a_change(reader: Reader) -> None:
    before = reader.version()
    reader.close()
    assert reader.version() > before


def test_every_write_is_noticed_on_other_databases_too(
    engine: Engine, keeper: Keeper, session: int, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The way for databases with no change counter, tried on SQLite's tables."""
    with monkeypatch.context() as patch:
        patch.setattr(engine.dialect, "name", "another")
        watch = Watch(engine)
    seen = watch.version()
    request = 0

    def leave() -> None:
        nonlocal request
        request = leave_hand(engine, "mill.detector", True, 1)

    writes: list[Callable[[], None]] = [
        lambda: fill(keeper, 1),
        lambda: keeper.tape(1, "mill.detector", True),
        lambda: keeper.standing("mill.detector", True, True, 1, 1),
        lambda: keeper.standing("mill.detector", False, True, 2, 1),
        lambda: keeper.remark("something"),
        lambda: keeper.pulse("guarding"),
        leave,
        lambda: keeper.answer(request, True),
        lambda: keeper.end_session(9),
    ]
    for write in writes:
        assert watch.version() == seen
        write()
        assert keeper.flush()
        assert watch.version() > seen
        seen = watch.version()
    watch.close()


def test_a_logbook_that_has_gone_bad_is_told_by_name(path: Path, engine: Engine) -> None:
    reader = Reader(engine)
    with engine.begin() as connection:
        connection.exec_driver_sql("DROP TABLE pulse")
    with pytest.raises(LogbookError, match="pulse") as told:
        reader.pulse()
    assert str(path) in str(told.value)
