"""The JSON: what it gives, what it refuses and in which words; it never answers with a 500."""

from __future__ import annotations

import re
from pathlib import Path

import pytest
from flask.testing import FlaskClient
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from web_filled import Filler, busy_evening
from web_screen import MOST_STREAMS, Screen

from firmware_py.core.names import Command
from web.access.guards import knows_host


def test_the_pages_and_their_files_are_all_our_own(client: FlaskClient) -> None:
    for page in ("/", "/bench"):
        answer = client.get(page)
        assert answer.status_code == 200
        text = answer.get_data(as_text=True)
        assert "http://" not in text
        assert "https://" not in text
        assert "<script>" not in text
        assert "style=" not in text
        policy = answer.headers["Content-Security-Policy"]
        assert "default-src 'none'" in policy
        assert "unsafe" not in policy
    files = sorted((Path(__file__).parents[2] / "web" / "static").iterdir())
    assert files
    for file in files:
        assert client.get(f"/static/{file.name}").status_code == 200
        text = file.read_text(encoding="utf-8").replace("http://www.w3.org/2000/svg", "")
        assert not re.search(r"https?://\w", text), file.name


def test_an_order_is_left_and_its_answer_can_be_read(
    client: FlaskClient, screen: Screen, filler: Filler
) -> None:
    screen.wake(filler)
    left = client.post("/api/orders", json={"command": "ask", "spur": "dairy"})
    assert left.status_code == 202
    number = left.json["request"]
    assert client.get(f"/api/requests/{number}").json["accepted"] is None
    filler.answer(5)
    filler.wait(5)
    assert client.get(f"/api/requests/{number}").json["accepted"] is True
    row = screen.look()["rows"]["dairy"]
    assert row["next"]["says"] == "Foreman: answer the crew"
    assert [one["command"] for one in row["commands"]] == ["release", "hold"]


def test_a_violation_is_acknowledged_once(
    client: FlaskClient, screen: Screen, filler: Filler
) -> None:
    busy_evening(filler)
    screen.wake(filler)
    body = {"command": "acknowledge", "violation": 3, "note": "talked about it"}
    assert client.post("/api/orders", json=body).status_code == 202
    filler.answer(650)
    filler.beat()
    state = screen.look()
    assert state["violations"]["3"]["acknowledged"] is True
    again = client.post("/api/orders", json=body)
    assert again.status_code == 409
    assert again.json["error"] == "violation 3 is acknowledged already"


@pytest.mark.parametrize(
    ("body", "status", "word"),
    [
        ({"command": "dance", "spur": "dairy"}, 400, "command"),
        ({"command": "ask"}, 400, "needs a spur"),
        ({"command": "ask", "spur": 7}, 400, "spur"),
        ({"command": "ask", "spur": "moon"}, 404, "no spur 'moon'"),
        ({"command": "ask", "spur": "dairy", "cars": 3}, 400, "takes no cars"),
        ({"command": "ask", "spur": "dairy", "violation": 1}, 400, "not a violation"),
        ({"command": "ask", "spur": "dairy", "colour": "red"}, 400, "colour"),
        ({"command": "start-brake-test", "spur": "dairy"}, 400, "number of cars"),
        ({"command": "start-brake-test", "spur": "dairy", "cars": 0}, 400, "cars"),
        ({"command": "acknowledge"}, 400, "number"),
        ({"command": "acknowledge", "violation": 99}, 404, "no violation 99"),
        ({"command": "acknowledge", "violation": 0}, 400, "violation"),
        ({"command": "acknowledge", "violation": 10**30}, 400, "violation"),
        ({"command": "acknowledge", "violation": 1, "spur": "dairy"}, 400, "nothing else"),
        ([], 400, "object"),
    ],
)
def test_an_order_that_makes_no_sense_is_refused_in_words(
    client: FlaskClient, screen: Screen, filler: Filler, body: object, status: int, word: str
) -> None:
    screen.wake(filler)
    answer = client.post("/api/orders", json=body)
    assert answer.status_code == status
    assert word in answer.json["error"]
    assert filler.inbox.new() == []


def test_an_order_is_not_left_for_an_engine_that_does_not_answer(
    client: FlaskClient, screen: Screen, filler: Filler
) -> None:
    screen.look()
    answer = client.post("/api/orders", json={"command": "ask", "spur": "dairy"})
    assert answer.status_code == 409
    assert "does not answer" in answer.json["error"]
    assert filler.inbox.new() == []


def test_a_hand_moves_a_simulated_contact(
    client: FlaskClient, screen: Screen, filler: Filler
) -> None:
    screen.wake(filler)
    for contact, status in (("dairy-switch.hasp", 202), ("dairy-switch.moon", 404)):
        answer = client.post("/api/hands", json={"contact": contact, "made": False})
        assert answer.status_code == status
    filler.answer(8)
    filler.wait(9)
    state = screen.look()
    contact = state["contacts"]["dairy-switch.hasp"]
    assert (contact["raw"], contact["says"], contact["edges"]) == (False, "not locked", 1)
    assert state["rows"]["dairy"]["stage"] == "unlocked"


def test_no_hand_at_real_contacts(path: Path) -> None:
    filler = Filler(str(path), simulated=False)
    screen = Screen(path)
    screen.wake(filler)
    answer = screen.client.post("/api/hands", json={"contact": "coal.detector", "made": True})
    assert answer.status_code == 409
    assert "real" in answer.json["error"]
    screen.close()
    filler.close()


def test_no_hand_where_the_screen_was_started_without(path: Path, filler: Filler) -> None:
    screen = Screen(path, hands=False)
    screen.wake(filler)
    answer = screen.client.post("/api/hands", json={"contact": "coal.detector", "made": True})
    assert answer.status_code == 409
    assert "without hands" in answer.json["error"]
    screen.close()


ASK = {"command": "ask", "spur": "dairy"}


@pytest.mark.parametrize(
    "headers",
    [
        {"Origin": "http://elsewhere.example"},
        {"Origin": "null"},
        {"Origin": "http://localhost:99"},
        {"Sec-Fetch-Site": "cross-site"},
        {"Sec-Fetch-Site": "same-site"},
        {"Sec-Fetch-Site": "none"},
    ],
)
def test_another_page_can_not_press_the_buttons(
    client: FlaskClient, screen: Screen, filler: Filler, headers: dict[str, str]
) -> None:
    screen.wake(filler)
    assert client.post("/api/orders", json=ASK, headers=headers).status_code == 403
    assert client.post("/api/hands", json={}, headers=headers).status_code == 403


def test_our_own_pages_can(client: FlaskClient, screen: Screen, filler: Filler) -> None:
    screen.wake(filler)
    headers = {"Origin": "http://localhost", "Sec-Fetch-Site": "same-origin"}
    assert client.post("/api/orders", json=ASK, headers=headers).status_code == 202


def test_a_form_can_not_press_them_either(client: FlaskClient) -> None:
    for kind in ("text/plain", "application/x-www-form-urlencoded", None):
        answer = client.post("/api/orders", data=b'{"command":"ask"}', content_type=kind)
        assert answer.status_code == 415
        assert "application/json" in answer.json["error"]


def test_nothing_is_served_under_a_name_that_is_not_ours(client: FlaskClient) -> None:
    assert client.get("/", headers={"Host": "rebound.example"}).status_code == 421
    assert client.get("/", headers={"Host": "127.0.0.1:80"}).status_code == 200
    assert knows_host("[::1]:8080")
    assert knows_host("192.0.2.7")
    assert not knows_host("")
    assert not knows_host("[::1")
    assert not knows_host("localhost.example")


def test_errors_are_json_in_plain_words(client: FlaskClient) -> None:
    for method, path, status in (
        ("get", "/api/nothing", 404),
        ("get", "/api/requests/999", 404),
        ("get", f"/api/requests/{10**40}", 404),
        ("get", "/api/orders", 405),
        ("post", "/api/state", 405),
        ("get", "/api/state", 503),
    ):
        answer = getattr(client, method)(path)
        assert answer.status_code == status
        assert isinstance(answer.json["error"], str)
    big = client.post("/api/orders", data=b"[" * 50_000, content_type="application/json")
    assert big.status_code == 413


@pytest.mark.parametrize(
    "data",
    [b"", b"[" * 9_000, b'{"command": "ask", "spur": "\\ud800"}', b"\xff\xfe", b"nul", b'{"a":'],
)
@pytest.mark.parametrize("where", ["/api/orders", "/api/hands"])
def test_broken_json_is_refused(client: FlaskClient, where: str, data: bytes) -> None:
    assert client.post(where, data=data, content_type="application/json").status_code == 400


@settings(max_examples=150, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(
    where=st.sampled_from(["/api/orders", "/api/hands"]),
    body=st.dictionaries(
        st.sampled_from(["command", "spur", "violation", "cars", "note", "contact", "made", "x"]),
        st.one_of(
            st.none(),
            st.booleans(),
            st.integers(),
            st.text(max_size=8),
            st.sampled_from([*Command, "dairy", "coal.detector"]),
        ),
    ),
)
def test_no_body_ever_makes_an_error_of_ours(
    client: FlaskClient, screen: Screen, filler: Filler, where: str, body: dict[str, object]
) -> None:
    if not screen.follower.live:
        filler.beat()
        screen.look()
        filler.beat()
        screen.look()
    answer = client.post(where, json=body)
    assert answer.status_code in {202, 400, 404, 409}
    assert answer.is_json


def test_health_says_whether_the_screen_follows(
    client: FlaskClient, screen: Screen, filler: Filler
) -> None:
    assert client.get("/health").status_code == 503
    screen.wake(filler)
    answer = client.get("/health")
    assert answer.status_code == 200
    assert answer.json == {"ok": True, "live": True, "streams": 0}


def test_streams_beyond_the_bound_are_told_so_and_places_come_back(
    client: FlaskClient, screen: Screen, filler: Filler
) -> None:
    screen.wake(filler)
    client.head("/api/events").close()
    assert screen.follower.hub.streams == 0
    streams = [client.get("/api/events") for _ in range(MOST_STREAMS)]
    refused = client.get("/api/events")
    assert refused.status_code == 503
    assert "screens are open already" in refused.json["error"]
    for stream in streams:
        stream.close()
    assert screen.follower.hub.streams == 0


def test_a_stream_begins_with_the_state_and_catches_up_on_entries(
    client: FlaskClient, screen: Screen, filler: Filler
) -> None:
    busy_evening(filler)
    screen.wake(filler)
    entries = screen.reader.entries(filler.session_id)
    stream = client.get("/api/events", headers={"Last-Event-ID": str(entries[3].id)})
    frames = iter(stream.response)
    assert next(frames).startswith(b"retry:")
    caught_up = next(frames).decode()
    assert caught_up.startswith(f"event: entries\nid: {entries[-1].id}\n")
    assert caught_up.count('"line"') == len(entries) - 4
    assert next(frames).decode().startswith(f"event: state\nid: {entries[-1].id}\n")
    stream.close()


@pytest.mark.parametrize("after", ["", "x", "-1", "²", "9" * 30])
def test_a_last_event_id_that_is_none_is_ignored(
    client: FlaskClient, screen: Screen, filler: Filler, after: str
) -> None:
    screen.wake(filler)
    stream = client.get("/api/events", query_string={"after": after})
    frames = iter(stream.response)
    next(frames)
    assert next(frames).startswith(b"event: state")
    stream.close()
