"""Whatever comes, a session's tape replays to its entries, and the engine's time never falls."""

from __future__ import annotations

import json
from collections.abc import Iterator
from io import BytesIO
from typing import Any
from unittest.mock import patch

from engine_stage import BEGAN_US, LAYOUT, Stage
from hypothesis import given, settings
from hypothesis import strategies as st
from pytest_mock import MockerFixture

from firmware_py.core.names import Command
from firmware_py.core.orders import Order
from firmware_py.engine.ports import Check, Given, Item, Stop
from firmware_py.tape.lines import text_of
from firmware_py.tape.reading import TapeReader
from firmware_py.tape.replay import replay

GAPS_US = st.one_of(
    st.integers(0, 30_000), st.sampled_from([20_000, 2_000_000, 5_000_000]), st.integers(0, 10**8)
)
LATE_US = st.one_of(st.just(0), st.integers(0, 3_000_000))
NAMES = st.sampled_from([contact.name for contact in LAYOUT.contacts])
LEVELS = st.sampled_from([True, False, True, False, None])
PLAIN = [c for c in Command if c not in {Command.ACKNOWLEDGE, Command.START_BRAKE_TEST}]
ORDERS = st.one_of(
    st.sampled_from(PLAIN).map(lambda command: Order(command, "mill")),
    st.integers(1, 5).map(lambda number: Order(Command.ACKNOWLEDGE, violation=number)),
    st.integers(1, 9).map(lambda cars: Order(Command.START_BRAKE_TEST, "mill", None, cars)),
)


@st.composite
def cues(draw: st.DrawFn) -> list[tuple[int, Item]]:
    at_us, script = 0, list[tuple[int, Item]]()
    for _ in range(draw(st.integers(0, 40))):
        at_us += draw(GAPS_US)
        match draw(st.integers(0, 9)):
            case 0:
                script.append((at_us, Check()))
            case 1 | 2:
                script.append((at_us, Given(draw(ORDERS))))
            case _:
                stamp_us = BEGAN_US + at_us - draw(LATE_US)
                script.append((at_us, (stamp_us, draw(NAMES), draw(LEVELS))))
    return [*script, (at_us + draw(GAPS_US), Stop())]


def lines_of(stage: Stage, end_us: int) -> Iterator[dict[str, Any]]:
    """The notebook's tape in the shape of rulebook section 10."""
    for t_us, contact, made, command, spur, violation, cars in stage.noted("tape"):
        if command is None:
            yield {"t": t_us / 1_000_000, "contact": contact, "made": made}
        else:
            about = {"spur": spur, "violation": violation, "cars": cars}
            given = {key: value for key, value in about.items() if value is not None}
            yield {"t": t_us / 1_000_000, "command": command, **given}
    yield {"t": end_us / 1_000_000, "end": True}


@settings(max_examples=150, deadline=None)
@given(script=cues(), levels=st.dictionaries(NAMES, LEVELS))
def test_the_tape_of_any_session_replays_to_its_entries(
    script: list[tuple[int, Item]], levels: dict[str, bool | None]
) -> None:
    with patch("firmware_py.engine.engine.SimpleQueue") as queue:
        stage = Stage(_Patcher(queue), levels=levels)
        end_us = stage.play(script)
    if end_us is None:
        assert stage.noted("tape") == []
        return
    tape = "\n".join(json.dumps(line) for line in lines_of(stage, end_us))
    reader = TapeReader(LAYOUT, BytesIO(tape.encode()), "the session's tape")
    replayed = [text_of(entry) for entry in replay(LAYOUT, reader)]
    assert replayed == [text_of(entry) for entry in stage.entries]
    assert all(entry.t_us > 0 for entry in stage.entries)
    assert stage.did[0] == stage.did[-1] == ("safe",)


class _Patcher(MockerFixture):
    """Puts the stage's queue where a patch of ours stands already: one for each example."""

    def __init__(self, queue: Any) -> None:  # noqa: ANN401 - a mock is of every type
        self._queue = queue

    def patch(self, target: str, return_value: object) -> None:  # type: ignore[override]
        self._queue.return_value = return_value
