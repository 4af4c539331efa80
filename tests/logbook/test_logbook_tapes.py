"""Saving a session as a tape (rulebook section 10 gives the lines' shape)."""

from __future__ import annotations

import json
from collections.abc import Callable
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from sqlalchemy import Engine

from firmware_py.core.entries import StageEntry
from firmware_py.core.names import Stage
from firmware_py.logbook import tapes
from firmware_py.logbook.errors import LogbookError
from firmware_py.logbook.opening import open_engine
from firmware_py.logbook.tapes import tape_lines
from firmware_py.logbook.writing import Keeper

NAMES = st.sampled_from(["mill.detector", "mill-switch.hasp", "mill-flag.rack"])
READINGS = st.fixed_dictionaries({"contact": NAMES, "made": st.sampled_from([True, False, None])})
ORDERS = st.one_of(
    st.fixed_dictionaries({"command": st.just("ask"), "spur": st.just("mill")}),
    st.fixed_dictionaries({"command": st.just("acknowledge"), "violation": st.integers(1, 9)}),
    st.fixed_dictionaries(
        {
            "command": st.just("start-brake-test"),
            "spur": st.just("mill"),
            "cars": st.integers(1, 99),
        }
    ),
)
TIMES = st.lists(st.integers(0, 10**12), max_size=30).map(sorted)


@given(st.data())
@settings(max_examples=20, deadline=None)
def test_a_tape_comes_back_line_by_line(data: st.DataObject) -> None:
    told = [(t_us, data.draw(READINGS | ORDERS)) for t_us in data.draw(TIMES)]
    with TemporaryDirectory() as folder:
        engine = open_engine(str(Path(folder) / "x.sqlite"))
        keeper = Keeper(engine)
        session = keeper.begin_session(
            layout_name="", layout_path="", layout_toml="", simulated=True, outset={}
        )
        for t_us, body in told:
            keeper.tape(t_us, **body)
        keeper.close()
        *lines, end = json.loads(json.dumps(list(tape_lines(engine, session))))
        engine.dispose()
    assert [(round(line.pop("t") * 1_000_000), line) for line in lines] == told
    assert end == {"t": (told[-1][0] if told else 0) / 1_000_000, "end": True}


def test_the_lines_are_those_of_the_rulebook(engine: Engine, keeper: Keeper, session: int) -> None:
    keeper.tape(0, "kiln.detector", True)
    keeper.tape(4_200_000, command="ask", spur="kiln")
    keeper.tape(31_000_001, "kiln.detector", None)
    keeper.tape(44_000_000, command="acknowledge", violation=1)
    keeper.end_session(900_000_000)
    keeper.flush()
    lines = tape_lines(engine, session)
    assert [json.dumps(line) for line in lines] == [
        '{"t": 0.0, "contact": "kiln.detector", "made": true}',
        '{"t": 4.2, "command": "ask", "spur": "kiln"}',
        '{"t": 31.000001, "contact": "kiln.detector", "made": null}',
        '{"t": 44.0, "command": "acknowledge", "violation": 1}',
        '{"t": 900.0, "end": true}',
    ]


def test_a_session_that_was_cut_off_ends_with_its_last_entry(
    engine: Engine, keeper: Keeper, session: int
) -> None:
    """A deadline's entry comes after the last reading; a replay has to run that far."""
    keeper.tape(1_000_000, "mill.detector", True)
    keeper.entry(StageEntry(7_000_000, "mill-switch", Stage.LINED), 1)
    keeper.flush()
    assert list(tape_lines(engine, session))[-1] == {"t": 7.0, "end": True}


def test_pages_join_without_a_seam_and_sessions_do_not_mix(
    engine: Engine,
    keeper: Keeper,
    session: int,
    begin: Callable[[Keeper], int],
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    monkeypatch.setattr(tapes, "_PAGE", 3)
    for t_us in range(10):
        keeper.tape(t_us, "mill.detector", True)
    second = begin(keeper)
    keeper.tape(99, "mill.detector", True)
    keeper.flush()
    assert _times(engine, session) == list(range(10))
    assert _times(engine, second) == [99]


def test_what_is_told_while_a_tape_is_taken_is_not_on_it(
    engine: Engine, keeper: Keeper, session: int
) -> None:
    keeper.tape(1, "mill.detector", True)
    keeper.flush()
    lines = tape_lines(engine, session)
    keeper.tape(2, "mill.detector", False)
    keeper.flush()
    assert [line.get("end") for line in lines] == [None, True]


def test_an_unknown_session_is_told_at_once(engine: Engine) -> None:
    with pytest.raises(LogbookError, match="there is no session 5"):
        tape_lines(engine, 5)


def _times(engine: Engine, session: int) -> list[int]:
    lines: list[dict[str, Any]] = list(tape_lines(engine, session))
    return [round(line["t"] * 1_000_000) for line in lines if "end" not in line]
