"""What a crew's link may do and what it may not; what is refused leaves everything as it was."""

from __future__ import annotations

from typing import Any

import msgspec
import pytest
from crew_scene import SLATE, Scene

from firmware_py.core.names import Command
from firmware_py.logbook.requests import unanswered
from firmware_py.logbook.screen.jobs import drop_job, save_job
from web.access.links import LENGTH
from web.describing import description

UNKNOWN = "a" * LENGTH


def waiting(scene: Scene) -> int:
    return len(unanswered(scene.screen.engine))


def refused(scene: Scene, what: str, body: object, name: str = "Slate turn") -> tuple[int, str]:
    """The status and the reason; nothing was left for the engine and no tick was made."""
    ticks = [tuple(tick) for tick in map(msgspec.structs.astuple, _ticks(scene))]
    answer = scene.guest.post(f"/api/crew/{scene.links[name]}/{what}", json=body)
    assert waiting(scene) == 0
    assert [tuple(tick) for tick in map(msgspec.structs.astuple, _ticks(scene))] == ticks
    return answer.status_code, answer.get_json()["error"]


def _ticks(scene: Scene) -> Any:  # noqa: ANN401 - the ticks as they stand
    scene.screen.look()
    followed = scene.screen.follower.followed
    assert followed is not None
    return followed.ticks


@pytest.mark.parametrize("command", ["release", "hold", "acknowledge", "open"])
def test_what_is_the_hosts_is_not_a_crews(scene: Scene, command: str) -> None:
    status, why = refused(scene, "orders", {"command": command})
    assert status == 403
    assert "host" in why


def test_only_the_current_stops_spur_is_worked(scene: Scene) -> None:
    for spur in ("coal", "dairy", "moon"):
        status, why = refused(scene, "orders", {"command": "ask", "spur": spur})
        assert status == 403
        assert "Slate quarry" in why
    answer = scene.post("orders", {"command": "ask", "spur": "quarry"})
    assert answer.status_code == 202
    assert scene.view()["at"]["phase"] == "opening"


def test_another_crews_spur_is_refused_while_it_is_worked(scene: Scene) -> None:
    scene.tick("left", 0, "Milk run")
    assert scene.view("Milk run")["at"]["spur"] == "quarry"
    scene.at_work()
    status, why = refused(scene, "orders", {"command": "work-done"}, "Milk run")
    assert status == 403
    assert "Ada and Bo" in why
    status, _ = refused(scene, "ticks", {"stop": 1, "step": "here"}, "Milk run")
    assert status == 403


def test_a_guess_may_be_overruled_by_the_crew_that_is_there(scene: Scene) -> None:
    scene.tick("left", 0, "Milk run")
    scene.tick("yard")  # The crew that was heard of last.
    scene.order(Command.ASK, "quarry")
    assert scene.view()["stops"][0]["here"]
    assert scene.next("Milk run")[0] == "other-crew"
    assert scene.tick("here", 1, "Milk run") == 200
    assert scene.view("Milk run")["stops"][1]["here"]
    assert scene.next()[0] == "other-crew"


def test_the_brake_test_wants_its_cars(scene: Scene) -> None:
    assert refused(scene, "orders", {"command": "start-brake-test"})[0] == 400
    assert refused(scene, "orders", {"command": "ask", "cars": 3})[0] == 400
    assert refused(scene, "orders", {"command": "start-brake-test", "cars": 0})[0] == 400
    scene.at_work()
    assert scene.post("orders", {"command": "start-brake-test", "cars": 2}).status_code == 202
    assert scene.view()["next"]["id"] == "brake-test"


def test_ticks_are_for_the_stop_that_the_job_is_at(scene: Scene) -> None:
    assert refused(scene, "ticks", {"stop": 1, "step": "horn"})[0] == 403
    assert refused(scene, "ticks", {"stop": -1, "step": "horn"})[0] == 400
    assert refused(scene, "ticks", {"stop": 0, "step": "dance"})[0] == 400
    assert refused(scene, "ticks", {"stop": 0, "step": "horn", "job": 2})[0] == 400


def test_a_tick_is_taken_back(scene: Scene) -> None:
    scene.tick("yard")
    assert scene.next() == ("rear", "tick")
    answer = scene.post("ticks/back", {"stop": 0, "step": "yard"})
    assert answer.get_json()["taken"] is True
    assert scene.next() == ("yard", "tick")
    assert scene.post("ticks/back", {"stop": 0, "step": "yard"}).get_json()["taken"] is False
    assert scene.post("ticks/back", {"stop": 90, "step": "yard"}).status_code == 404


def test_a_stop_that_was_left_out_is_gone_back_to(scene: Scene) -> None:
    scene.tick("left", 0)
    assert scene.view()["at"]["spur"] == "coal"
    scene.post("ticks/back", {"stop": 0, "step": "left"})
    assert scene.view()["at"]["spur"] == "quarry"


def test_nothing_is_taken_while_the_engine_does_not_answer(scene: Scene) -> None:
    scene.filler.beat("stopped")
    scene.screen.look()
    assert refused(scene, "orders", {"command": "ask"})[0] == 409
    assert refused(scene, "ticks", {"stop": 0, "step": "yard"})[0] == 409


@pytest.mark.parametrize("link", [UNKNOWN, "x", "é" * LENGTH, "A" * 500])
def test_an_unknown_link_is_told_so(scene: Scene, link: str) -> None:
    page = scene.guest.get(f"/crew/{link}")
    assert page.status_code == 404
    assert "ask the host" in page.text
    for path in ("", "/events"):
        assert scene.guest.get(f"/api/crew/{link}{path}").status_code == 404
    body = {"command": "ask"}
    assert scene.guest.post(f"/api/crew/{link}/orders", json=body).status_code == 404
    assert waiting(scene) == 0


def test_a_link_dies_with_its_evening(scene: Scene) -> None:
    old = dict(scene.links)
    scene.filler.keeper.end_session(round(scene.t * 1e6), 1)
    scene.filler.begin()
    scene.screen.wake(scene.filler)
    for link in old.values():
        page = scene.guest.get(f"/crew/{link}")
        assert page.status_code == 410
        assert "new link" in page.text
        answer = scene.guest.get(f"/api/crew/{link}")
        assert answer.status_code == 410
        assert "evening is over" in answer.get_json()["error"]
        assert scene.guest.get(f"/api/crew/{link}/events").status_code == 410
        ticked = scene.guest.post(f"/api/crew/{link}/ticks", json={"stop": 0, "step": "yard"})
        assert ticked.status_code == 410
    scene.links["Slate turn"] = scene.link(scene.job("Slate turn").id)
    assert scene.next() == ("yard", "tick")


def test_a_job_that_was_taken_away_is_told_so(scene: Scene) -> None:
    drop_job(scene.screen.engine, scene.job("Slate turn").id, 5)
    scene.screen.look()
    answer = scene.guest.get(f"/api/crew/{scene.links['Slate turn']}")
    assert answer.status_code == 410
    assert "taken this job away" in answer.get_json()["error"]


def test_another_pages_request_is_refused(scene: Scene) -> None:
    path = f"/api/crew/{scene.links['Slate turn']}/orders"
    for headers in ({"Origin": "http://elsewhere.example"}, {"Sec-Fetch-Site": "cross-site"}):
        assert scene.guest.post(path, json={"command": "ask"}, headers=headers).status_code == 403
    assert scene.guest.post(path, data='{"command": "ask"}').status_code == 415
    assert scene.guest.get(path).status_code == 405
    assert waiting(scene) == 0


def test_a_stream_begins_with_the_time_and_the_page_and_tells_changes(scene: Scene) -> None:
    response = scene.guest.get(f"/api/crew/{scene.links['Slate turn']}/events")
    frames = iter(response.response)
    first = [bytes(next(frames)) for _ in range(3)]
    assert first[0].startswith(b"event: beat")
    assert first[1].startswith(b"retry")
    assert b'"yard"' in first[2]
    scene.tick("yard")
    scene.tick("yard", 0, "Milk run")
    told = bytes(next(frames))
    assert told.startswith(b"event: job")
    assert b"marker" in told
    assert b"Milk run" not in told
    response.close()
    assert scene.screen.follower.hub.streams == 0


def test_a_page_that_did_not_change_is_not_sent_again(scene: Scene) -> None:
    before = scene.screen.follower.hub.state(f"job:{scene.job('Slate turn').id}")
    scene.hand(("rope-switch.hasp", False))
    assert scene.screen.follower.hub.state(f"job:{scene.job('Slate turn').id}") is before


def test_a_changed_job_is_drawn_anew(scene: Scene) -> None:
    job = msgspec.structs.replace(scene.job("Slate turn"), crew="Eve")
    save_job(scene.screen.engine, "Tarn Hollow", job, 10**9)
    assert scene.view()["job"]["crew"] == "Eve"


def test_the_page_holds_no_words_of_the_job(scene: Scene) -> None:
    page = scene.guest.get(f"/crew/{scene.links['Slate turn']}")
    assert page.status_code == 200
    assert SLATE.name not in page.text
    assert "<script>" not in page.text
    assert "style=" not in page.text


def test_every_route_of_a_crew_is_described(scene: Scene) -> None:
    described = description()["paths"]
    for rule in scene.screen.app.url_map.iter_rules():
        if rule.rule.startswith("/api/crew"):
            path = rule.rule.replace("<", "{").replace(">", "}")
            methods = {one.lower() for one in rule.methods or ()} - {"head", "options"}
            assert methods == described[path].keys()
