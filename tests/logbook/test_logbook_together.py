"""What is told together is committed together: a kill can't tear an order from its answer."""

from __future__ import annotations

import signal
import subprocess
import sys
import threading
from collections.abc import Callable
from pathlib import Path

import pytest
from sqlalchemy import Engine, func, select

from firmware_py.logbook.opening import open_engine
from firmware_py.logbook.reading import Reader
from firmware_py.logbook.tables import ENTRY, REMARK, TAPE, VIOLATION
from firmware_py.logbook.writing import Keeper

KILLED = """
import os, signal, sys

from firmware_py.core.entries import Violation
from firmware_py.core.names import Rule
from firmware_py.logbook.opening import open_engine
from firmware_py.logbook.writing import Keeper

path, puts = sys.argv[1], int(sys.argv[2])
keeper = Keeper(open_engine(path), group_s=0.001)
keeper.begin_session(
    layout_name="", layout_path="", layout_toml="", simulated=True, outset={}
)
raised = Violation(1, 1, Rule.MOVED_WHILE_LOCKED, "mill-switch", None, ())
keeper.entry(raised, 1)
assert keeper.flush()
steps = [
    lambda: keeper.tape(2, command="acknowledge", violation=1),
    lambda: keeper.remark("what came of it"),
    lambda: keeper.acknowledged(1, 2),
]
with keeper.together():
    for step in steps[:puts]:
        step()
    if puts < len(steps) or len(sys.argv) > 3:
        keeper.flush(0.2)  # All the time that the writer may want.
        os.kill(os.getpid(), signal.SIGKILL)
keeper.flush()
os.kill(os.getpid(), signal.SIGKILL)
"""
"""A process that raises a violation, acknowledges it, and is killed after so many steps of that."""


def test_nothing_told_within_a_block_is_written_before_it_ends(tmp_path: Path) -> None:
    database = open_engine(str(tmp_path / "log.sqlite"))
    keeper, reader = Keeper(database), Reader(database)
    with keeper.together():
        keeper.remark("first")
        assert not keeper.flush(0.3), "the writer waits"
        assert reader.remarks() == []
        keeper.remark("second")
    assert keeper.flush(10.0)
    assert [remark.text for remark in reader.remarks()] == ["second", "first"]
    assert keeper.close()


def test_a_block_that_fails_does_not_hold_the_writer_for_ever(tmp_path: Path) -> None:
    keeper = Keeper(open_engine(str(tmp_path / "log.sqlite")))
    with pytest.raises(RuntimeError, match="trouble"):
        _fail_within(keeper)
    keeper.remark("after it")
    assert keeper.flush(10.0)
    assert keeper.close()


def _fail_within(keeper: Keeper) -> None:
    with keeper.together():
        keeper.remark("before the trouble")
        raise RuntimeError("trouble")


def test_blocks_of_several_threads_all_come_through(tmp_path: Path) -> None:
    database = open_engine(str(tmp_path / "log.sqlite"))
    keeper = Keeper(database)

    def tell(name: str) -> None:
        for number in range(50):
            with keeper.together():
                keeper.remark(f"{name} {number} a")
                keeper.remark(f"{name} {number} b")

    threads = [threading.Thread(target=tell, args=(name,)) for name in "xyz"]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert keeper.flush(10.0)
    assert len(Reader(database).remarks(limit=1000)) == 300
    assert keeper.close()


@pytest.mark.parametrize(
    ("puts", "within", "kept"),
    [(1, True, False), (2, True, False), (3, True, False), (3, False, True)],
)
def test_a_kill_leaves_all_of_a_block_or_nothing(
    tmp_path: Path, puts: int, within: bool, kept: bool
) -> None:
    """An acknowledgement on the tape alone would never reach the violation's row again."""
    path = tmp_path / "log.sqlite"
    arguments = [str(path), str(puts), *(["within"] if within else [])]
    ended = subprocess.run([sys.executable, "-c", KILLED, *arguments], check=False, timeout=60)
    assert ended.returncode == -signal.SIGKILL
    database = open_engine(str(path))
    assert _count(database, ENTRY.c.id) == 1, "what was there before is there"
    assert _count(database, TAPE.c.id) == kept
    assert _count(database, REMARK.c.id) == kept
    assert _count(database, VIOLATION.c.acknowledged_t_us) == kept
    database.dispose()


def test_closing_ends_a_hold_and_what_was_told_is_kept(tmp_path: Path) -> None:
    """Else whoever closes within a block, or while another thread is in one, waits for ever."""
    database = open_engine(str(tmp_path / "log.sqlite"))
    keeper = Keeper(database)
    with keeper.together():
        keeper.remark("told before")
        assert keeper.close()
    assert [remark.text for remark in Reader(database).remarks()] == ["told before"]


def test_blocks_may_be_nested(tmp_path: Path) -> None:
    database = open_engine(str(tmp_path / "log.sqlite"))
    keeper = Keeper(database)
    with keeper.together():
        with keeper.together():
            keeper.remark("within")
        assert not keeper.flush(0.2), "the outer block goes on"
    assert keeper.flush(10.0)
    assert keeper.close()


def test_readings_told_in_a_block_need_no_other_to_be_written(
    tmp_path: Path, begin: Callable[[Keeper], int]
) -> None:
    """The writer sleeps without an end as the block begins, and is called as it ends."""
    database = open_engine(str(tmp_path / "log.sqlite"))
    keeper = Keeper(database, group_s=0.01)
    begin(keeper)
    with keeper.together():
        keeper.tape(1, "mill-switch.normal", True)
    written = threading.Event()
    for _ in range(1_000):
        if _count(database, TAPE.c.id) == 1:
            written.set()
            break
        written.wait(0.01)
    assert written.is_set()
    assert keeper.close()


def test_damage_told_of_by_another_thread_does_not_cut_a_block(
    tmp_path: Path, begin: Callable[[Keeper], int]
) -> None:
    database = open_engine(str(tmp_path / "log.sqlite"))
    keeper = Keeper(database)
    begin(keeper)
    with keeper.together():
        keeper.tape(1, command="ask", spur="mill")
        keeper.mend("page 7 is not what it was")
        keeper.remark("what came of it")
        assert not keeper.flush(0.2)
        assert _count(database, TAPE.c.id) == 0
    assert keeper.flush(10.0)
    assert keeper.close()
    aside = [path for path in tmp_path.iterdir() if "damaged" in path.name]
    old = open_engine(str(next(path for path in aside if path.suffix == ".sqlite")))
    assert _count(old, TAPE.c.id) == 1
    assert "what came of it" in [remark.text for remark in Reader(old).remarks()]
    old.dispose()


def _count(database: Engine, column: object) -> int:
    with database.connect() as connection:
        return connection.scalar(select(func.count(column))) or 0
