"""Rows of any kind put straight into the table of requests: SQLite keeps anything in any column.

Every one is answered, none stops the engine, and one that is refused changes nothing.
"""

from __future__ import annotations

import time
from typing import Any

from fuzz_live import COLUMNS, Live
from hypothesis import HealthCheck, example, given, settings
from hypothesis import strategies as st
from trouble_shift import until

from firmware_py.core.names import Command, Shows

CONTACTS = ["pit-switch.hasp", "pit-switch.normal", "pit.detector", "mine-switch.reverse"]
OUTPUTS = ["pit-switch.red", "pit-switch.bolt", "pit.power", "mine-switch.green"]
COMMANDS = [*(command.value for command in Command)]
SHOWS = [*(shows.value for shows in Shows), "back"]
ANYTHING = st.one_of(
    st.none(),
    st.integers(-(2**63), 2**63 - 1),
    st.integers(-3, 1_100),
    st.floats(allow_nan=False),  # SQLite keeps NaN as NULL.
    st.text(max_size=20),
    st.binary(max_size=8),
)
NOW = "now"
"""Stands for the moment at which the row is put in."""


def mostly(*sound: object) -> st.SearchStrategy[Any]:
    """One of these, or now and then anything."""
    return st.one_of(st.sampled_from(sound), st.sampled_from(sound), ANYTHING)


ROWS = st.fixed_dictionaries(
    {
        "wall_us": st.one_of(
            st.just(NOW), st.just(NOW), ANYTHING.filter(lambda one: one is not None)
        ),
        "kind": mostly("order", "hand", "by-hand").filter(lambda kind: kind is not None),
        "command": mostly(*COMMANDS, *SHOWS),
        "spur": mostly("pit", "mine", "pit-switch"),
        "violation": mostly(1, 2, 999, None),
        "cars": mostly(1, 12, None),
        "note": ANYTHING,
        "contact": mostly(*CONTACTS),
        "made": mostly(0, 1, None),
        "output": mostly(*OUTPUTS),
    }
)


@settings(max_examples=250, deadline=None, suppress_health_check=list(HealthCheck))
@given(row=ROWS)
@example(
    dict.fromkeys(COLUMNS)
    | {"wall_us": NOW, "kind": "order", "command": "acknowledge", "violation": "one"}
)
@example(
    dict.fromkeys(COLUMNS) | {"wall_us": "now", "kind": "order", "command": "ask", "spur": b"pit"}
)
@example(
    {"wall_us": NOW, "kind": "order", "command": "start-brake-test", "spur": "pit", "cars": 2.5}
)
@example({"wall_us": NOW, "kind": "hand", "contact": 5, "made": "x"})
@example({"wall_us": NOW, "kind": "by-hand", "output": "pit-switch.red", "command": "steady"})
@example({"wall_us": NOW, "kind": "by-hand", "output": b"pit.power", "command": 1})
@example({"wall_us": "yesterday", "kind": "hand", "contact": "pit-switch.hasp", "made": 1})
@example({"wall_us": NOW, "kind": "wish", "command": "ask", "spur": "pit"})
def test_any_row_is_answered_and_a_refused_one_changes_nothing(
    live: Live, row: dict[str, Any]
) -> None:
    before = live.standing()
    violations = len(live.shift.violations())
    if row["wall_us"] == NOW:
        row = row | {"wall_us": time.time_ns() // 1_000}
    accepted, why = live.answer(live.leave(row))
    assert live.lives()
    if not accepted:
        assert why
        assert live.standing() == before
        assert len(live.shift.violations()) == violations


def test_lamps_are_right_and_nothing_is_lost_after_all_that(live: Live) -> None:
    until(live.shift.lamps_right)
    live.shift.nothing_lost()
    sound = {
        "wall_us": time.time_ns() // 1_000,
        "kind": "hand",
        "contact": "pit.detector",
        "made": 1,
    }
    assert live.answer(live.leave(sound)) == (True, None)
