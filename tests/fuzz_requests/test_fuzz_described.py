"""The screen against its own OpenAPI description, by schemathesis, with a live engine behind it.

The streams are left out: they do not end by themselves.
"""

from __future__ import annotations

import json
import re
from typing import Any

import pytest
import schemathesis
from flask import Flask
from fuzz_live import Live
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from schemathesis import APIOperation, Case

from web.describing import description
from web.static_files import static_path

PAGES = {
    "/",
    "/bench",
    "/briefing",
    "/commission",
    "/commission/records/{number}",
    "/proof",
    "/crew/{link}",
    "/debrief",
    "/debrief/{session}",
    "/forecast",
    "/jobs",
    "/jobs/{number}/sheet",
    "/pace",
    "/pace/locomotives/{number}/card",
    "/session",
    "/static/{filename}",
    f"{static_path()}/{{filename}}",
}
"""For people; everything else is for programs too, and described."""
MODES = tuple(schemathesis.GenerationMode)
DESCRIBED = description()

SCHEMA = schemathesis.openapi.from_dict(DESCRIBED).exclude(
    path=["/api/events", "/api/commission/events"]
)
OPERATIONS = [found.ok() for found in SCHEMA.get_all_operations()]
EXAMPLES = settings(max_examples=60, deadline=None, suppress_health_check=list(HealthCheck))


@pytest.mark.parametrize("host", [False, True], ids=["guest", "host"])
@pytest.mark.parametrize("operation", OPERATIONS, ids=lambda operation: operation.label)
def test_answers_are_as_described(live: Live, operation: APIOperation, host: bool) -> None:
    """Of requests that fit the description and of some that don't.

    A guest's change nothing, however well they fit.
    """
    operation.schema.app = live.app

    @EXAMPLES
    @given(case=st.one_of(*(operation.as_strategy(generation_mode=mode) for mode in MODES)))
    def ask(case: Case) -> None:
        if host:
            live.sign_in()
        before, kept = live.standing(), live.kept()
        said = case.call(app=live.app, headers=live.head if host else None)
        case.validate_response(said, excluded_checks=_beside_the_point(case))
        assert live.lives()
        if not host:
            assert live.kept() == kept
            assert said.status_code < 500 or said.status_code == 503
            assert said.status_code >= 400 or operation.method == "get"
        elif said.status_code == 202:
            accepted, _ = live.answer(json.loads(said.content)["request"])
            assert accepted or live.standing() == before
        else:
            assert said.status_code < 500 or said.status_code == 503
            assert live.standing() == before

    ask()


def _beside_the_point(case: Case) -> list[Any]:
    """JSON Schema takes 564.0 for an integer, the screen does not, and need not."""
    if _has_float(case.body):
        return [schemathesis.checks.CHECKS.get_one("positive_data_acceptance")]
    return []


def _has_float(value: object) -> bool:
    if isinstance(value, dict):
        return any(_has_float(one) for one in value.values())
    if isinstance(value, list):
        return any(_has_float(one) for one in value)
    return isinstance(value, float)


def test_the_description_names_every_route_there_is(live: Live) -> None:
    assert _routes(live.app) == set(DESCRIBED["paths"])


def _routes(app: Flask) -> set[str]:
    rules = {re.sub(r"<(?:\w+:)?(\w+)>", r"{\1}", str(rule)) for rule in app.url_map.iter_rules()}
    return rules - PAGES
