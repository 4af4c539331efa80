"""A wall clock that steps by ten years, either way: a Pi has no clock of its own."""

from __future__ import annotations

import time
from collections.abc import Callable
from pathlib import Path

import pytest
from pytest_mock import MockerFixture
from trouble_shift import TOML, Shift, until

from firmware_py.core.names import Shows
from firmware_py.logbook.opening import open_engine
from firmware_py.logbook.requests import leave_order

TEN_YEARS_NS = 10 * 365 * 86_400 * 1_000_000_000
BRISK = TOML.replace("relock_within = 30.0", "relock_within = 0.3")


@pytest.mark.parametrize("step_ns", [TEN_YEARS_NS, -TEN_YEARS_NS])
def test_a_wall_clock_that_steps_ten_years(
    begin: Callable[..., Shift], tmp_path: Path, mocker: MockerFixture, step_ns: int
) -> None:
    shift = begin(tmp_path, toml=BRISK)
    shift.trespass()
    real = time.time_ns
    mocker.patch("time.time_ns", side_effect=lambda: real() + step_ns)
    shift.trespass()
    fed = shift.manager.fed
    until(lambda: shift.manager.fed > fed + 3)

    database = open_engine(str(shift.logbook))
    asked = leave_order(database, "ask", spur="pit", wall_us=time.time_ns() // 1_000)
    until(lambda: shift.read(lambda reader: reader.request(asked)).accepted)
    database.dispose()
    assert shift.core.foremen()["pit"] == "asked"

    mocker.stopall()  # And back again.
    shift.hand("pit-switch.normal", False)
    assert shift.shows("pit-switch", "green") is Shows.OFF
    shift.hand("pit-switch.normal", True)
    until(lambda: shift.violations()[:2] == ["out-of-order"] * 2, shift.violations)
    shift.nothing_lost()
    times = [line["t"] for line in shift.logged()]
    assert times == sorted(times), "session time never steps"


def test_a_deadline_is_neither_lost_nor_brought_forward_by_a_step(
    begin: Callable[..., Shift], tmp_path: Path, mocker: MockerFixture
) -> None:
    shift = begin(tmp_path, toml=BRISK)
    shift.order("ask", "pit")
    shift.order("release", "pit")
    deadline_us = shift.core.deadline_us
    real = time.time_ns
    mocker.patch("time.time_ns", side_effect=lambda: real() + TEN_YEARS_NS)
    assert shift.core.deadline_us == deadline_us
    shift.trespass()
    assert shift.core.now_us < 60_000_000
    shift.nothing_lost()
