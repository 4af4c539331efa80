"""The screen against its own OpenAPI description, by schemathesis, with a live engine behind it.

The stream is left out: it does not end by itself.
"""

from __future__ import annotations

import json
import re
from importlib.resources import files
from typing import Any

import pytest
import schemathesis
from flask import Flask
from fuzz_live import Live
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from schemathesis import APIOperation, Case

MODES = tuple(schemathesis.GenerationMode)
DESCRIBED: dict[str, Any] = json.loads(files("web").joinpath("openapi.json").read_bytes())


SCHEMA = schemathesis.openapi.from_dict(DESCRIBED).exclude(path="/api/events")
OPERATIONS = [found.ok() for found in SCHEMA.get_all_operations()]
EXAMPLES = settings(max_examples=150, deadline=None, suppress_health_check=list(HealthCheck))


@pytest.mark.parametrize("operation", OPERATIONS, ids=lambda operation: operation.label)
def test_answers_are_as_described(live: Live, operation: APIOperation) -> None:
    """Of requests that fit the description and of some that don't."""
    operation.schema.app = live.app

    @EXAMPLES
    @given(case=st.one_of(*(operation.as_strategy(generation_mode=mode) for mode in MODES)))
    def ask(case: Case) -> None:
        before = live.standing()
        said = case.call(app=live.app)
        case.validate_response(said, excluded_checks=_beside_the_point(case))
        assert live.lives()
        if said.status_code == 202:
            accepted, _ = live.answer(json.loads(said.content)["request"])
            assert accepted or live.standing() == before
        else:
            assert said.status_code < 500 or said.status_code == 503
            assert live.standing() == before

    ask()


def _beside_the_point(case: Case) -> list[Any]:
    """JSON Schema takes 564.0 for an integer, the screen does not, and need not."""
    fields = case.body.values() if isinstance(case.body, dict) else ()
    if any(isinstance(value, float) for value in fields):
        return [schemathesis.checks.CHECKS.get_one("positive_data_acceptance")]
    return []


def test_the_description_names_every_route_there_is(live: Live) -> None:
    assert _routes(live.app) == set(DESCRIBED["paths"])


def _routes(app: Flask) -> set[str]:
    pages = {"/", "/bench", "/static/{filename}"}
    rules = {re.sub(r"<(?:\w+:)?(\w+)>", r"{\1}", str(rule)) for rule in app.url_map.iter_rules()}
    return rules - pages
