"""The forecast's routes and pages, and the debrief that compares."""

from __future__ import annotations

import json
from collections.abc import Iterator
from pathlib import Path

import msgspec
import pytest
from debrief import debrief_player as player
from debrief.debrief_player import LAYOUT, US
from debrief.debrief_screen import Screen

from firmware_py.forecast.answering import answered
from firmware_py.forecast.words import Answer, Question
from firmware_py.logbook.forecasting import Wanted, question_of
from firmware_py.logbook.opening import open_engine
from firmware_py.logbook.screen.forecasts import keep_forecast
from firmware_py.logbook.screen.jobs import drop_job
from web.forecast.said import hours, in_ten, length, percent

FIRST_US = 1_800_000_000 * US


@pytest.fixture
def url(tmp_path: Path) -> str:
    return str(tmp_path / "logbook.sqlite")


@pytest.fixture
def screen(url: str) -> Iterator[Screen]:
    """A screen over an evening that is over and one that is between sessions."""
    player.keep_jobs(url)
    player.evening_of_jobs(url, FIRST_US, 2, slips=0.0)
    evening = player.Evening(url, FIRST_US + 7200 * US, opened=False)
    evening.wait(5)
    evening.leave()
    screen = Screen(url)
    screen.look()
    yield screen
    screen.close()


def forecast(url: str, wall_us: int, minutes: float = 60.0) -> Answer:
    engine = open_engine(url)
    answer = answered(question_of(engine, LAYOUT, Wanted(minutes, evenings=100)))
    keep_forecast(engine, LAYOUT.name, answer, wall_us)
    engine.dispose()
    return answer


def test_the_host_has_one_made_and_everybody_sees_it(screen: Screen) -> None:
    assert screen.guest.get("/api/forecast").json == {"forecast": None}
    assert "press <b>Forecast</b>" in screen.guest.get("/forecast").text
    made = screen.host.post("/api/forecast", json={"minutes": 45, "crews": 2})
    assert made.status_code == 201
    given = made.json["forecast"]
    assert [job["name"] for job in given["jobs"]] == ["Morning turn", "Foundry turn"]
    assert given["minutes"] == 45
    assert screen.guest.get("/api/forecast").json["forecast"] == given
    page = screen.guest.get("/forecast").text
    assert "Both jobs are done in time" in page
    assert page.count('role="img"') >= 2
    assert "nan" not in page.lower().replace("ordinance", "")
    assert "style=" not in page


def test_a_guest_makes_none(screen: Screen) -> None:
    assert screen.guest.post("/api/forecast", json={}).status_code == 401
    other = {"Sec-Fetch-Site": "cross-site"}
    assert screen.host.post("/api/forecast", json={}, headers=other).status_code == 403
    assert screen.guest.get("/api/forecast").json == {"forecast": None}


@pytest.mark.parametrize(
    "body",
    [
        {"minutes": 0},
        {"minutes": 1441},
        {"minutes": "long"},
        {"minutes": 1e400},
        {"crews": 0},
        {"crews": 51},
        {"crews": -1},
        {"chance_percent": 0},
        {"chance_percent": 100},
        {"seed": 3},
        [],
    ],
)
def test_what_does_not_fit_is_refused(screen: Screen, body: object) -> None:
    said = screen.host.post("/api/forecast", data=json.dumps(body), content_type="application/json")
    assert said.status_code == 400
    assert "can't be used" in said.json["error"]


def test_without_jobs_there_is_a_clear_word(screen: Screen) -> None:
    for job in (1, 2):
        drop_job(screen.engine, job, 1)
    said = screen.host.post("/api/forecast", json={})
    assert said.status_code == 422
    assert said.json["error"].startswith("there is no job to forecast")
    assert "There are no jobs yet" in screen.guest.get("/forecast").text


def test_a_forecast_of_other_jobs_is_told_as_old(screen: Screen, url: str) -> None:
    forecast(url, FIRST_US + 8000 * US)
    assert "The jobs have changed" not in screen.guest.get("/forecast").text
    drop_job(screen.engine, 2, 1)
    assert "The jobs have changed" in screen.guest.get("/forecast").text


def test_before_the_first_session_there_is_no_forecast(tmp_path: Path) -> None:
    screen = Screen(str(tmp_path / "empty.sqlite"))
    assert "No layout is guarded yet" in screen.guest.get("/forecast").text
    assert screen.guest.get("/api/forecast").status_code == 409
    assert screen.host.post("/api/forecast", json={}).status_code == 409
    screen.close()


def test_the_dial_shows_what_is_set_and_what_is_in_force(screen: Screen) -> None:
    set_to = screen.host.post("/api/settings", json={"pace-dial": 3.3})
    assert set_to.json["pace-dial"] == 3.3
    page = screen.guest.get("/forecast").text
    assert 'value="3.3" checked' in page
    assert "in force now: as the layout says" in page


def test_the_debrief_compares_forecast_and_fact(screen: Screen, url: str) -> None:
    assert screen.guest.get("/api/debrief/1").json["forecast"] is None
    assert "Forecast and fact" not in screen.guest.get("/debrief/1").text
    forecast(url, FIRST_US - 60 * US)
    told = screen.guest.get("/api/debrief/1").json["forecast"]
    assert [one["name"] for one in told["jobs"]] == ["Morning turn", "Foundry turn"]
    assert told["whole"]["fact_s"] == max(one["fact_s"] for one in told["jobs"])
    page = screen.guest.get("/debrief/1").text
    assert "The last job ended" in page
    assert page.count('class="fact"') == 6  # Three ends, in each of the two drawings.


def test_where_the_band_fails_the_debrief_shows_the_bounds(screen: Screen, url: str) -> None:
    answer = forecast(url, 1)
    whole = answer.whole
    short = msgspec.structs.replace(
        answer,
        whole=msgspec.structs.replace(
            whole,
            low=msgspec.structs.replace(whole.low, value=10.0),
            high=msgspec.structs.replace(whole.high, value=20.0),
        ),
    )
    keep_forecast(screen.engine, LAYOUT.name, short, FIRST_US - US)
    told = screen.guest.get("/api/debrief/1").json["forecast"]
    assert told["whole"]["inside"] is False
    page = screen.guest.get("/debrief/1").text
    assert "outside the band" in page
    assert "Had every step gone its own way" in page
    assert "slow or quick together" in page


def test_words() -> None:
    assert [hours(t) for t in (0, 59, 5430, -3)] == ["0:00", "0:01", "1:30", "0:00"]
    assert [length(t) for t in (0, 59.4, 60, 7260)] == ["0 s", "59 s", "1 min", "2 h 01 min"]
    assert [percent(p) for p in (0, 0.004, 0.5, 1)] == ["1 %", "1 %", "50 %", "99 %"]
    assert in_ten(0.5) == "on 5 of 10 evenings"
    assert {in_ten(p / 1000) for p in range(1001)} >= {"on 1 of 10 evenings", "on 9 of 10 evenings"}


def test_what_the_page_asks_is_a_question_as_json() -> None:
    question = Question((), {}, 6.0, (), 1, 1.0)
    asked = msgspec.to_builtins(question)
    assert msgspec.convert(json.loads(json.dumps(asked)), Question) == question
