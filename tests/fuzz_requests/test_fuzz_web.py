"""Anything sent to the screen: no 5xx but the documented 503; what is refused changes nothing.

A guest's requests are all refused, whatever is in them. For the signed-in host's a live engine
stands behind it; what the screen lets through, the engine judges.
"""

from __future__ import annotations

import json

import pytest
from fuzz_live import Live
from hypothesis import HealthCheck, example, given, settings
from hypothesis import strategies as st
from trouble_shift import until

from firmware_py.core.names import Command

PATHS = ("/api/orders", "/api/hands")
EXAMPLES = settings(max_examples=200, deadline=None, suppress_health_check=list(HealthCheck))
JSON = st.recursive(
    st.none() | st.booleans() | st.integers() | st.floats() | st.text(max_size=30),
    lambda inner: (
        st.lists(inner, max_size=4) | st.dictionaries(st.text(max_size=12), inner, max_size=4)
    ),
    max_leaves=12,
)
FIELDS = {
    "command": st.sampled_from([*(command.value for command in Command)]) | JSON,
    "spur": st.sampled_from(["pit", "mine", "nowhere"]) | JSON,
    "violation": st.integers(-1, 5) | JSON,
    "cars": st.integers(-1, 600) | JSON,
    "note": st.text(max_size=600) | JSON,
    "contact": st.sampled_from(["pit-switch.hasp", "pit.detector", "mine-switch.normal"]) | JSON,
    "made": st.sampled_from([True, False, None]) | JSON,
}
ORDERS = st.fixed_dictionaries(
    {"command": FIELDS["command"]},
    optional={name: FIELDS[name] for name in ("spur", "violation", "cars", "note", "made")},
)
HANDS = st.fixed_dictionaries(
    {"contact": FIELDS["contact"], "made": FIELDS["made"]},
    optional={name: FIELDS[name] for name in ("spur", "note")},
)


def _bytes(body: object) -> bytes:
    return json.dumps(body).encode()


SPURS = st.sampled_from(["pit", "mine", "nowhere"])
SOUND = st.one_of(
    st.fixed_dictionaries(
        {"command": st.sampled_from(["ask", "release", "hold", "hand-back", "work-done"])},
        optional={"spur": SPURS, "note": st.text(max_size=50)},
    ).filter(lambda body: "spur" in body),
    st.builds(dict, command=st.just("start-brake-test"), spur=SPURS, cars=st.integers(1, 500)),
    st.builds(dict, command=st.just("acknowledge"), violation=st.integers(1, 4)),
    st.builds(
        dict,
        contact=st.sampled_from(["pit-switch.hasp", "pit.detector", "mine-switch.normal"]),
        made=st.sampled_from([True, False, None]),
    ),
)
"""Bodies that the screen may let through, for the engine to judge."""
ASKED = st.one_of(
    SOUND.map(lambda body: ("/api/hands" if "contact" in body else "/api/orders", _bytes(body))),
    st.tuples(st.sampled_from(PATHS), st.one_of(ORDERS, HANDS, JSON).map(_bytes)),
    st.tuples(st.sampled_from(PATHS), st.binary(max_size=200)),
)
JSON_TYPE = "application/json"
TYPES = st.sampled_from([JSON_TYPE] * 12 + ["text/plain", "application/x-www-form-urlencoded"])
REFUSALS = {400, 403, 404, 409, 413, 415, 421, 503}
GUESTS = {400, 401, 413, 415}


@EXAMPLES
@given(asked=ASKED, kind=TYPES)
@example(("/api/orders", b'{"command": "ask", "spur": "pit"}'), JSON_TYPE)
@example(("/api/orders", b'{"command": "acknowledge", "violation": 1}'), JSON_TYPE)
@example(("/api/orders", b'{"command": "ask", "spur": "\\ud800"}'), JSON_TYPE)
@example(("/api/hands", b'{"contact": "pit-switch.hasp", "made": false}'), JSON_TYPE)
@example(("/api/hands", b"[" * 16_000), JSON_TYPE)
@example(("/api/hands", b" " * 20_000), JSON_TYPE)
def test_any_body(live: Live, asked: tuple[str, bytes], kind: str) -> None:
    path, body = asked
    before = live.standing()
    said = live.client(host=True).post(path, data=body, content_type=kind)
    assert live.lives()
    if said.status_code == 202:
        accepted, why = live.answer(said.get_json()["request"])
        assert accepted or (why and live.standing() == before)
    else:
        assert said.status_code in REFUSALS
        assert said.get_json()["error"]
        assert live.standing() == before


@EXAMPLES
@given(asked=ASKED, kind=TYPES, path=st.none() | st.sampled_from(["/api/host/leave"]))
@example(("/api/orders", b'{"command": "ask", "spur": "pit"}'), JSON_TYPE, None)
@example(("/api/hands", b'{"contact": "pit-switch.hasp", "made": false}'), JSON_TYPE, None)
def test_any_body_of_a_guest_is_refused(
    live: Live, asked: tuple[str, bytes], kind: str, path: str | None
) -> None:
    before, kept = live.standing(), live.kept()
    said = live.client().post(path or asked[0], data=asked[1], content_type=kind)
    assert said.status_code in GUESTS
    assert said.get_json()["error"]
    assert (live.standing(), live.kept()) == (before, kept)


@settings(EXAMPLES, max_examples=60)
@given(body=st.dictionaries(st.sampled_from(["pin", "PIN", ""]), JSON).map(_bytes) | st.binary())
def test_anything_given_at_the_door_but_the_pin_is_refused(live: Live, body: bytes) -> None:
    kept = live.kept()
    said = live.client().post("/api/host", data=body, content_type=JSON_TYPE)
    assert said.status_code in {400, 403, 429}
    assert "Set-Cookie" not in said.headers
    assert live.kept() == kept


@pytest.mark.parametrize("host", [False, True])
@EXAMPLES
@given(
    path=st.text(max_size=40).map(lambda text: f"/{text}")
    | st.sampled_from([*PATHS, "/api/state"]),
    method=st.sampled_from(["GET", "HEAD", "POST", "PUT", "DELETE", "PATCH", "OPTIONS"]),
    headers=st.dictionaries(
        st.sampled_from(["Origin", "Sec-Fetch-Site", "Content-Length", "Last-Event-ID", "Accept"]),
        st.text(st.characters(min_codepoint=32, max_codepoint=126), max_size=20),
        max_size=3,
    ),
)
def test_any_request_line_and_headers(
    live: Live, path: str, method: str, headers: dict[str, str], host: bool
) -> None:
    client = live.client(host=host)
    before, kept = live.standing(), live.kept()
    # Past the test client, which would take //x for another machine, as no server does.
    place = {"PATH_INFO": path.encode().decode("latin-1")}
    said = client.open("/", method=method, headers=headers, environ_overrides=place)
    said.close()
    assert said.status_code < 500 or said.status_code == 503
    assert (live.standing(), live.kept()) == (before, kept)


@EXAMPLES
@given(number=st.integers(-5, 10**30) | st.text(max_size=10))
def test_any_number_of_a_request(live: Live, number: int | str) -> None:
    said = live.client().get(f"/api/requests/{number}")
    assert said.status_code in {200, 308, 404}


def test_lamps_are_right_and_nothing_is_lost_after_all_that(live: Live) -> None:
    until(live.shift.lamps_right)
    live.shift.nothing_lost()


def test_a_logbook_that_can_not_be_used_is_a_503(
    live: Live, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The one 5xx there is, and it is documented."""
    from firmware_py.logbook.errors import LogbookError  # noqa: PLC0415 - only here

    def refuse(*_: object, **__: object) -> int:
        raise LogbookError("gravel.sqlite: its disk is full; free some space there")

    monkeypatch.setattr("web.api.leave_order", refuse)
    asking = live.client(host=True)
    said = asking.post("/api/orders", json={"command": "ask", "spur": "pit"})
    assert said.status_code == 503
    assert "free some space" in said.get_json()["error"]
