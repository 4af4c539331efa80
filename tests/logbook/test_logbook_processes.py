"""Engine and screen as two real processes on one file; and an engine that is killed."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

from sqlalchemy import Engine

from firmware_py.core.entries import StageEntry
from firmware_py.core.names import Stage
from firmware_py.logbook.opening import open_engine
from firmware_py.logbook.reading import Reader
from firmware_py.logbook.requests import Inbox
from firmware_py.logbook.writing import Keeper

SCREEN = """
import sys
from firmware_py.logbook.opening import open_engine
from firmware_py.logbook.reading import Reader
from firmware_py.logbook.requests import leave_order

engine = open_engine(sys.argv[1])
reader = Reader(engine)
for number in range(60):
    left = leave_order(engine, "ask", spur=f"spur-{number}", wall_us=number)
    while reader.request(left).answered_wall_us is None:
        reader.changed()
    assert reader.request(left).why == f"answer to spur-{number}"
print("all answered")
"""

ENGINE = """
import sys, time
from firmware_py.core.entries import StageEntry
from firmware_py.core.names import Stage
from firmware_py.logbook.opening import open_engine
from firmware_py.logbook.writing import Keeper

keeper = Keeper(open_engine(sys.argv[1]))
keeper.begin_session(
    layout_name="x", layout_path="x", layout_toml="", simulated=True, outset={}
)
for t_us in range(100_000):
    keeper.tape(t_us, "mill.detector", bool(t_us % 2))
    keeper.entry(StageEntry(t_us, "mill-switch", Stage.LINED), t_us)
    if t_us % 100 == 0:
        assert keeper.flush(60)
        print(t_us, flush=True)
"""


def test_a_screen_and_an_engine_on_one_file(path: Path) -> None:
    engine = open_engine(str(path))
    keeper = Keeper(engine)
    session = keeper.begin_session(
        layout_name="x", layout_path="x", layout_toml="", simulated=True, outset={}
    )
    screen = _start(SCREEN, path)
    inbox, told = Inbox(engine), 0
    while screen.poll() is None:
        for request in inbox.new():
            keeper.answer(request.id, False, f"answer to {request.spur}")
        keeper.entry(StageEntry(told, "mill-switch", Stage.LINED), told)
        keeper.standing("mill.detector", bool(told % 2), True, told, told)
        told += 1
        keeper.flush()
    assert screen.stdout is not None
    assert screen.stdout.read() == "all answered\n"
    assert keeper.close()
    assert keeper.health().set_aside == 0
    seen, after = 0, 0
    while page := Reader(engine).entries(session, after):
        assert [entry.t_us for entry in page] == list(range(seen, seen + len(page)))
        seen, after = seen + len(page), page[-1].id
    assert seen == told
    engine.dispose()


def test_a_killed_engine_has_kept_what_it_flushed_and_nothing_out_of_order(
    engine: Engine, path: Path
) -> None:
    child = _start(ENGINE, path)
    assert child.stdout is not None
    flushed = [int(child.stdout.readline()) for _ in range(6)][-1]
    child.kill()
    child.wait()
    child.stdout.close()
    with engine.connect() as connection:
        entries = connection.exec_driver_sql("SELECT t_us FROM entry ORDER BY id").scalars().all()
        readings = connection.exec_driver_sql("SELECT t_us FROM tape ORDER BY id").scalars().all()
    assert entries == list(range(len(entries)))
    assert readings == list(range(len(readings)))
    assert len(entries) > flushed
    # A reading is told before its entry, so it is there if the entry is.
    assert len(readings) >= len(entries)


def _start(code: str, path: Path) -> subprocess.Popen[str]:
    return subprocess.Popen(
        [sys.executable, "-c", code, str(path)], stdout=subprocess.PIPE, text=True
    )
