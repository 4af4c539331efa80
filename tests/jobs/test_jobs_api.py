"""The jobs' JSON: what a guest sees, what the host may do, and what is refused."""

from __future__ import annotations

import json
from typing import Any

import pytest
from jobs_samples import SLATE, SLATE_BODY
from web_screen import Screen

from firmware_py.logbook.screen.job_files import read_jobs, write_jobs
from firmware_py.logbook.screen.jobs import jobs_of
from firmware_py.logbook.screen.settings import secret
from web.access.links import job_of
from web.describing import description

TARN = "Tarn Hollow"
SECRETS = ("Nobody smokes here", "behind the shed", "/crew/", "/sheet")


def made(screen: Screen, **other: Any) -> int:  # noqa: ANN401 - any key of a job
    said = screen.client.post("/api/jobs", json=SLATE_BODY | other)
    assert said.status_code in {200, 201}, said.text
    return int(said.get_json()["job"])


def names(screen: Screen) -> list[str]:
    return [job["name"] for job in screen.guest.get("/api/jobs").get_json()["jobs"]]


def test_the_host_sees_all_of_a_job_and_a_guest_what_the_gate_does_not_hide(
    screen: Screen,
) -> None:
    number = made(screen)
    seen = screen.client.get("/api/jobs").get_json()
    assert seen["host"] is True
    job = seen["jobs"][0]
    assert job["stops"][0]["note"] == "Nobody smokes here.\nThe shed is kept shut."
    assert job["stops"][0]["spot"] == [{"car": "powder car", "place": "behind the shed, alone"}]
    assert job["sheet"] == f"/jobs/{number}/sheet"
    link = job["link"].removeprefix("/crew/")
    known = jobs_of(screen.engine, TARN)
    assert job_of(link, secret(screen.engine, "link-secret"), 0, known) == known[0]

    said = screen.guest.get("/api/jobs")
    assert not any(word in said.text for word in SECRETS)
    job = said.get_json()["jobs"][0]
    assert said.get_json()["host"] is False
    assert job["crew"] == "Ada and Bo"
    assert job["stops"][0]["pull"][0] == {"car": "slate wagon", "place": "at the loading bank"}
    assert job["stops"][0]["spot"] == [{"car": "powder car"}]


def test_what_a_job_can_name_is_told_in_the_layouts_order(screen: Screen) -> None:
    said = screen.guest.get("/api/jobs").get_json()
    assert said["layout"] == TARN
    assert [spur["id"] for spur in said["spurs"]] == ["quarry", "dairy", "tannery", "coal", "rope"]
    assert said["spurs"][0]["keys"] == ["quarry-key"]
    assert said["keys"] == [{"id": "quarry-key", "name": "Quarry key"}]


def test_a_job_is_put_in_the_place_of_itself(screen: Screen) -> None:
    number = made(screen)
    assert made(screen, id=number, name="  Slate\tagain ") == number
    assert names(screen) == ["Slate again"]


CHANGES: list[tuple[str, dict[str, Any]]] = [
    ("/api/jobs", SLATE_BODY),
    ("/api/jobs/1/drop", {}),
    ("/api/jobs/1/drop", {"back": True}),
    ("/api/jobs/order", {"ids": [1]}),
    ("/api/jobs/import", {"toml": write_jobs([SLATE])}),
    ("/api/settings", {"crew-steps": []}),
]


@pytest.mark.parametrize(("route", "body"), CHANGES)
def test_a_guest_changes_nothing(screen: Screen, route: str, body: dict[str, Any]) -> None:
    made(screen)
    assert screen.guest.post(route, json=body).status_code == 401
    strange = {"X-Spurlock-Token": "x"}
    assert screen.client.post(route, json=body, headers=strange).status_code == 403
    assert screen.client.post(route, data=json.dumps(body)).status_code == 415
    elsewhere = {"Origin": "http://elsewhere.example"}
    assert screen.client.post(route, json=body, headers=elsewhere).status_code == 403
    assert screen.client.get(route).status_code in {200, 405}
    assert names(screen) == ["Slate run"]


def test_a_guest_gets_no_file(screen: Screen) -> None:
    made(screen)
    said = screen.guest.get("/api/jobs/export.toml")
    assert said.status_code == 401
    assert "PIN" in said.get_json()["error"]


def stop(**other: Any) -> dict[str, Any]:  # noqa: ANN401 - any key of a job
    return {"stops": [{"spur": "quarry", **other}]}


REFUSED: list[tuple[dict[str, Any], int, str]] = [
    ({"name": " \n"}, 400, "name is blank"),
    ({"name": "x" * 121}, 400, "name has 121 characters; at most 120 fit on its line"),
    ({"name": "a\0b"}, 400, "name must be a text that can be shown on one line"),
    ({"name": "a\ud800"}, 400, "can't be used"),
    ({"name": None}, 400, "can't be used"),
    ({"crew": "a\u202eb"}, 400, "crew must be a text that can be shown on one line"),
    ({"cars": 501}, 400, "cars must be a number from 0 to 500, not 501"),
    ({"cars": -1}, 400, "cars must be a number from 0 to 500, not -1"),
    ({"cars": 1.5}, 400, "can't be used"),
    ({"cars": 10**30}, 400, "cars must be a number from 0 to 500, not 1000"),
    ({"rear": "lantern"}, 400, "can't be used"),
    ({"colour": "red"}, 400, "can't be used"),
    ({"stops": []}, 400, "a job needs at least one stop"),
    ({"stops": [{"spur": "quarry"}] * 41}, 400, "stops: there are 41; at most 40 fit a job"),
    (stop(pull=[{"car": "x"}] * 61), 400, "stop 1: pull: there are 61; at most 60 fit a job"),
    (stop(pull=[{"car": " "}]), 400, "stop 1: pull: car 1 is blank"),
    (stop(spot=[{"car": "x", "place": "y" * 121}]), 400, "spot: car 1: place has 121 characters"),
    (stop(note="x" * 2001), 400, "stop 1: note has 2001 characters; at most 2000 fit"),
    (stop(note="a\u0007"), 400, "stop 1: note has characters that can't be shown"),
    ({"stops": [{"spur": ""}]}, 409, "stop 1: choose a spur"),
    ({"stops": [{"spur": "quary"}]}, 409, 'no spur "quary" on this layout; did you mean "quarry"?'),
    ({"keys": ["coal-key"]}, 409, 'there is no key "coal-key" on this layout'),
    ({"keys": ["quarry-key"] * 2}, 409, "named twice"),
    ({"id": 99}, 404, "there is no job 99 on this layout"),
    ({"id": 2**63}, 400, "can't be used"),
]


@pytest.mark.parametrize(("other", "status", "says"), REFUSED, ids=range(len(REFUSED)))
def test_a_job_that_can_not_be_kept_is_refused(
    screen: Screen, other: dict[str, Any], status: int, says: str
) -> None:
    data = json.dumps(SLATE_BODY | other)
    said = screen.client.post("/api/jobs", data=data, content_type="application/json")
    assert said.status_code == status
    assert says in said.get_json()["error"]
    assert names(screen) == []


def test_a_dropped_job_is_taken_back_but_not_changed(screen: Screen) -> None:
    number = made(screen)
    assert screen.client.post(f"/api/jobs/{number}/drop", json={}).get_json()["dropped"] is True
    assert names(screen) == []
    again = screen.client.post("/api/jobs", json=SLATE_BODY | {"id": number})
    assert again.status_code == 404
    back = screen.client.post(f"/api/jobs/{number}/drop", json={"back": True})
    assert back.get_json() == {"job": number, "dropped": False}
    assert names(screen) == ["Slate run"]


@pytest.mark.parametrize("number", ["0", "7", str(2**63), "9" * 400])
def test_there_is_nothing_to_drop(screen: Screen, number: str) -> None:
    made(screen)
    assert screen.client.post(f"/api/jobs/{number}/drop", json={}).status_code == 404
    assert names(screen) == ["Slate run"]


def test_the_order_names_every_job_once(screen: Screen) -> None:
    one, two, three = (made(screen, name=name) for name in ("one", "two", "three"))
    for ids in ([one, two], [one, two, two], [one, two, three, 99], []):
        said = screen.client.post("/api/jobs/order", json={"ids": ids})
        assert said.status_code == 409
        assert "the list has changed" in said.get_json()["error"]
    assert screen.client.post("/api/jobs/order", json={"ids": [three, one, two]}).status_code == 200
    assert names(screen) == ["three", "one", "two"]


def test_out_and_in_again(screen: Screen) -> None:
    made(screen)
    out = screen.client.get("/api/jobs/export.toml")
    assert out.mimetype == "application/toml"
    assert "jobs.toml" in out.headers["Content-Disposition"]
    said = screen.client.post("/api/jobs/import", json={"toml": out.text})
    assert said.status_code == 201
    assert names(screen) == ["Slate run", "Slate run"]
    again = screen.client.post("/api/jobs/import", json={"toml": out.text, "replace": True})
    assert again.get_json()["ids"] == [1]
    assert screen.client.get("/api/jobs/export.toml").text == out.text
    followed = screen.follower.followed
    assert followed is not None
    assert read_jobs(out.text, "", followed.plan.layout) == [SLATE]


def test_an_import_with_a_mistake_takes_nothing_in(screen: Screen) -> None:
    text = write_jobs([SLATE]) + '\n[[job]]\nname = "Moon"\n[[job.stop]]\nspur = "moon"\n'
    said = screen.client.post("/api/jobs/import", json={"toml": text})
    assert said.status_code == 409
    line = text.splitlines().index('spur = "moon"') + 1
    assert said.get_json()["wrong"][0].startswith(f'line {line}: job 2 "Moon": stop 1: there is no')
    assert said.get_json()["error"].startswith(f"nothing was taken in: line {line}: ")
    assert names(screen) == []


def test_sizes_are_limited_and_said(screen: Screen) -> None:
    fits = "# " + "x" * 60_000 + "\n" + write_jobs([SLATE])
    assert screen.client.post("/api/jobs/import", json={"toml": fits}).status_code == 201
    large = screen.client.post("/api/jobs/import", json={"toml": "#" * 70_000})
    assert large.status_code == 413
    assert "spurlock jobs LOGBOOK --import FILE" in large.get_json()["error"]
    large = screen.client.post("/api/jobs", json=SLATE_BODY | {"crew": "x" * 70_000})
    assert large.status_code == 413
    order = screen.client.post("/api/jobs/order", json={"ids": [1] * 20_000})
    assert order.status_code == 413


def test_two_hundred_jobs_are_enough(screen: Screen) -> None:
    made(screen)
    small = '[[job]]\nname = "a"\n[[job.stop]]\nspur = "coal"\n' * 199
    assert screen.client.post("/api/jobs/import", json={"toml": small}).status_code == 201
    full = screen.client.post("/api/jobs", json=SLATE_BODY)
    assert full.status_code == 409
    assert "a layout can have 200" in full.get_json()["error"]
    screen.client.post("/api/jobs/1/drop", json={})
    made(screen)
    assert screen.client.post("/api/jobs/1/drop", json={"back": True}).status_code == 409


def test_every_route_of_the_room_is_described(screen: Screen) -> None:
    described = description()["paths"]
    for rule in screen.app.url_map.iter_rules():
        text = str(rule).replace("<int:number>", "{number}")
        if text.startswith(("/api/jobs", "/api/settings")):
            methods = {method.lower() for method in rule.methods or ()} - {"head", "options"}
            assert methods <= described[text].keys()
