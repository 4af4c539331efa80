"""What is told together is committed together: a kill can't tear an order from its answer."""

from __future__ import annotations

import threading
from pathlib import Path

import pytest

from firmware_py.logbook.opening import open_engine
from firmware_py.logbook.reading import Reader
from firmware_py.logbook.writing import Keeper


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
