"""The pace dial: in force from the next session on, and told by that session's own layout."""

from __future__ import annotations

import contextlib
from pathlib import Path

import pytest
from engine_plant import plant_of, replays, running, until
from engine_turns import LAYOUT, closed, entries, newest, opened, wall_us

from firmware_py.core.pace import brake_test_seconds
from firmware_py.forecast.dial import DIAL
from firmware_py.layout.reading import parse_layout
from firmware_py.logbook.errors import LogbookError
from firmware_py.logbook.reading import Reader
from firmware_py.logbook.requests import leave_order
from firmware_py.logbook.screen.settings import change

pytestmark = pytest.mark.filterwarnings("error::pytest.PytestUnhandledThreadExceptionWarning")


@pytest.fixture
def layout_file(tmp_path: Path) -> Path:
    path = tmp_path / "basin.toml"
    path.write_text(LAYOUT, "utf-8")
    return path


def brakes(reader: Reader, session: int) -> float:
    """Ask, wait for the foreman, and have a test of two cars made; how long it is to take."""
    leave_order(reader.engine, "ask", spur="mill", wall_us=wall_us())
    until(lambda: len(entries(reader, session, "foreman")) >= 2)
    left = leave_order(reader.engine, "start-brake-test", spur="mill", cars=2, wall_us=wall_us())
    until(lambda: reader.request(left).answered_wall_us)
    return float(entries(reader, session, "brake-test")[-1].line["seconds"])


def test_a_new_setting_is_in_force_from_the_next_session_on(
    layout_file: Path, reader: Reader
) -> None:
    usual = round(brake_test_seconds(2, 6.0), 3)
    with running(plant_of(layout_file)) as plant:
        opened(reader)
        first = newest(reader)
        change(reader.engine, DIAL, "0.1")
        assert brakes(reader, first.id) == usual
        closed(reader)
        opened(reader)
        second = newest(reader)
        assert brakes(reader, second.id) == round(brake_test_seconds(2, 60.0), 3)
        assert plant.engine.core is not None
        assert plant.engine.core.layout.wait_scale == 0.1
    assert first.layout_toml == LAYOUT
    assert parse_layout(second.layout_toml, "f").wait_scale == 0.1
    said = [remark.text for remark in reader.remarks(second.id)]
    assert "Paced waits are 0.1 times as long as the layout says." in said
    for session in reader.sessions():
        replays(reader, session)


def test_an_automatic_foreman_waits_by_the_dial(layout_file: Path, reader: Reader) -> None:
    change(reader.engine, DIAL, "2.0")
    with running(plant_of(layout_file)):
        opened(reader)
        session = newest(reader)
        leave_order(reader.engine, "ask", spur="mill", wall_us=wall_us())
        until(lambda: len(entries(reader, session.id, "foreman")) >= 2)
    asked, released = (one.t_us for one in entries(reader, session.id, "foreman")[:2])
    assert released - asked >= 600_000  # 0.3 s on the layout, twice as long by the dial.


def test_a_session_that_goes_on_keeps_its_own_dial(layout_file: Path, reader: Reader) -> None:
    change(reader.engine, DIAL, "0.5")
    with running(plant_of(layout_file), ends=False):
        opened(reader)
        before = newest(reader)
    change(reader.engine, DIAL, "3.0")
    with running(plant_of(layout_file)) as plant:
        assert newest(reader).id == before.id
        assert plant.engine.core is not None
        assert plant.engine.core.layout.wait_scale == 0.5
        assert brakes(reader, before.id) == round(brake_test_seconds(2, 12.0), 3)
    replays(reader, newest(reader))


@pytest.mark.parametrize("text", ["nan", "inf", "-1", "0", "often", "1e300"])
def test_a_dial_that_is_no_number_is_as_if_never_set(
    layout_file: Path, reader: Reader, text: str
) -> None:
    with contextlib.suppress(LogbookError):
        change(reader.engine, DIAL, text)
    with running(plant_of(layout_file)) as plant:
        assert plant.engine.core is not None
        assert plant.engine.core.layout.wait_scale == 1.0
    assert newest(reader).layout_toml == LAYOUT
