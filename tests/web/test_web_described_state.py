"""What the description says of the screen's state is what the screen gives."""

from __future__ import annotations

from typing import Any

import jsonschema
from web_filled import Filler, busy_evening
from web_screen import Screen

from web.describing import description


def check(state: dict[str, Any]) -> None:
    whole = description()
    schema = {"$ref": "#/components/schemas/State", "components": whole["components"]}
    jsonschema.Draft202012Validator(schema).validate(state)


def test_a_busy_evening_is_as_described(screen: Screen, filler: Filler) -> None:
    busy_evening(filler)
    state = screen.wake(filler)
    check(state)
    described = set(description()["components"]["schemas"]["State"]["properties"])
    assert set(state) == described - {"nodes"}, "nodes are a board's of many boxes"
    assert state["desk"]
    assert state["violations"]


def test_a_silent_engine_and_no_session_are_as_described(screen: Screen, filler: Filler) -> None:
    check(screen.look())


def test_the_stream_is_described_by_its_events(screen: Screen) -> None:
    prose = description()["paths"]["/api/events"]["get"]["description"]
    for word in ("`state`", "`patch`", "`beat`", "`entries`", "Last-Event-ID", "`after`"):
        assert word in prose
