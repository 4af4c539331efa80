"""The Pace page's JSON: what a guest sees, what the host measures, and what is refused."""

from __future__ import annotations

from typing import Any

import pytest
from sqlalchemy import text
from web_filled import Filler
from web_screen import Screen

from firmware_py.logbook.screen.locomotives import locomotives_of
from firmware_py.logbook.screen.rolls import rolls_of
from web.describing import description

TARN = "Tarn Hollow"
LOCOMOTIVES = "/api/pace/locomotives"
SPEEDS = {4: 6.0, 8: 14.0, 12: 22.0, 16: 30.0, 20: 37.0, 24: 43.0, 28: 48.0}
"""Scale mph of a locomotive that nobody owns, by throttle step."""


def post(screen: Screen, path: str, body: object, status: int = 200) -> Any:  # noqa: ANN401
    said = screen.client.post(path, json=body)
    assert said.status_code == status, said.text
    return said.get_json()


def made(screen: Screen, **more: object) -> int:
    return int(post(screen, LOCOMOTIVES, {"name": "No. 7"} | more, 201)["locomotive"])


def measured(screen: Screen, **more: object) -> int:
    number = made(screen, **more)
    for step, mph in SPEEDS.items():
        for forward in (True, False):
            body = {"step": step, "forward": forward, "mph": mph * (1 if forward else 0.96)}
            post(screen, f"{LOCOMOTIVES}/{number}/runs", body)
    return number


def advice(screen: Screen, number: int) -> dict[str, Any]:
    said = screen.client.get(f"{LOCOMOTIVES}/{number}/advice")
    assert said.status_code == 200, said.text
    found: dict[str, Any] = said.get_json()["advice"]
    return found


def test_a_locomotive_is_measured_and_advised(screen: Screen) -> None:
    number = measured(screen, top_mph=24, stop_mm=762)
    found = advice(screen, number)
    settings = found["settings"]
    assert len(settings["table"]) == 28
    assert settings["table"] == sorted(settings["table"])
    assert settings["top"] == settings["table"][-1]
    assert found["table_mph"][-1] == pytest.approx(24, rel=0.02)
    assert settings["reverse_trim"] > 128, "it is slower in reverse"
    assert found["braking"]["from_full_mm"] == pytest.approx(762, rel=0.06)
    assert found["everyday_mph"] == pytest.approx(48 * 0.96 / 2)


def test_a_measured_stop_corrects_the_braking_and_can_be_forgotten(screen: Screen) -> None:
    number = measured(screen, top_mph=24, stop_mm=762)
    cv = advice(screen, number)["braking"]["cv"]
    stop = {"cv4": cv, "from_step": 28, "stopped_mm": 1100}
    post(screen, f"{LOCOMOTIVES}/{number}/stop", {"stop": stop})
    found = advice(screen, number)
    assert found["braking"]["cv"] < cv
    assert found["correction"]["factor"] > 1
    post(screen, f"{LOCOMOTIVES}/{number}/stop", {"stop": None})
    assert advice(screen, number)["braking"]["cv"] == cv


def test_what_cannot_be_advised_is_a_clear_word(screen: Screen) -> None:
    number = made(screen)
    said = screen.client.get(f"{LOCOMOTIVES}/{number}/advice")
    assert said.status_code == 422
    assert "3 different ones are needed" in said.get_json()["error"]
    number = measured(screen, top_mph=300)
    said = screen.client.get(f"{LOCOMOTIVES}/{number}/advice")
    assert said.status_code == 422
    assert "not measured above" in said.get_json()["error"]


def test_a_pass_of_the_log_is_kept_as_exactly_as_it_was_read(
    screen: Screen, filler: Filler
) -> None:
    filler.read(60, "quarry-switch.detector", True)
    filler.read(61.5, "quarry.detector", True)
    filler.wait(70)
    screen.look()
    [speed] = screen.state()["speeds"]
    number = made(screen)
    passed = {"t_us": speed["t_us"], "at": speed["at"]}
    run = post(
        screen, f"{LOCOMOTIVES}/{number}/runs", {"step": 9, "forward": True, "passed": passed}
    )
    [kept] = run["runs"]
    assert kept["mph"] == pytest.approx(speed["mph"], abs=0.05)
    assert kept["mph"] != speed["mph"]
    stranger = {"step": 9, "forward": True, "passed": {"t_us": 1, "at": speed["at"]}}
    post(screen, f"{LOCOMOTIVES}/{number}/runs", stranger, 404)
    both = {"step": 9, "forward": True, "passed": passed, "mph": 3}
    post(screen, f"{LOCOMOTIVES}/{number}/runs", both, 422)
    post(screen, f"{LOCOMOTIVES}/{number}/runs", {"step": 9, "forward": True}, 422)


def test_a_pass_is_told_with_its_doubt_and_its_way(screen: Screen, filler: Filler) -> None:
    filler.read(60, "quarry.detector", True)
    filler.read(65, "quarry-switch.detector", True)
    filler.wait(70)
    [speed] = screen.look()["speeds"]
    assert speed["toward"] == "toward Quarry switch"
    assert "±" in speed["says"]
    assert 0 < speed["plus_minus"] < 1
    assert speed["unit"] == "scale mph"
    assert not speed["paused"]


def test_measured_passes_go_one_by_one(screen: Screen) -> None:
    number = measured(screen)
    said = post(screen, f"{LOCOMOTIVES}/{number}/runs/forget", {"place": 0})
    assert len(said["runs"]) == 2 * len(SPEEDS) - 1
    assert said["runs"][0]["forward"] is False
    post(screen, f"{LOCOMOTIVES}/{number}/runs/forget", {"place": 900}, 404)


def test_passes_bind_the_settings_they_were_measured_under(screen: Screen) -> None:
    number = measured(screen)
    post(screen, LOCOMOTIVES, {"id": number, "name": "No. 7", "cv2": 30}, 409)
    post(screen, LOCOMOTIVES, {"id": number, "name": "No. 7 again", "top_mph": 20})
    [one] = locomotives_of(screen.engine, TARN)
    assert (one.name, one.wanted.top_mph) == ("No. 7 again", 20)


def test_one_that_is_taken_away_can_come_back(screen: Screen) -> None:
    number = measured(screen)
    post(screen, f"{LOCOMOTIVES}/{number}/drop", {})
    assert screen.guest.get(LOCOMOTIVES).get_json() == {"locomotives": []}
    post(screen, f"{LOCOMOTIVES}/{number}/drop", {"back": True})
    assert len(screen.guest.get(LOCOMOTIVES).get_json()["locomotives"][0]["runs"]) == 14
    post(screen, f"{LOCOMOTIVES}/999/drop", {}, 404)


@pytest.mark.parametrize(
    ("address", "body"),
    [
        (LOCOMOTIVES, {"name": "A"}),
        (f"{LOCOMOTIVES}/1/drop", {}),
        (f"{LOCOMOTIVES}/1/runs", {"step": 1, "forward": True, "mph": 1}),
        (f"{LOCOMOTIVES}/1/runs/forget", {"place": 0}),
        (f"{LOCOMOTIVES}/1/stop", {"stop": None}),
        ("/api/pace/rolls", {"car": "A", "measured": {"way": "tilt", "rise_mm": 1, "run_mm": 9}}),
        ("/api/pace/rolls/1/forget", {}),
        ("/api/pace/places", {"spur": "quarry", "way_mm": 1}),
        ("/api/pace/calibration", {"trap": "x", "shown": [1], "true_mph": 1}),
    ],
)
def test_a_guest_changes_nothing(screen: Screen, address: str, body: object) -> None:
    assert screen.guest.post(address, json=body).status_code == 401


def test_a_guest_is_not_given_a_child_process(screen: Screen) -> None:
    number = measured(screen)
    assert screen.guest.get(f"{LOCOMOTIVES}/{number}/advice").status_code == 401
    assert screen.guest.get(f"/pace/locomotives/{number}/card").status_code == 401


@pytest.mark.parametrize(
    ("measured", "percent"),
    [
        ({"way": "tilt", "rise_mm": 12, "run_mm": 1000}, 1.2),
        ({"way": "ramp", "height_mm": 9.144, "to_rest_mm": 914.4}, 1.0),
        ({"way": "speeds", "first_mm_s": 254, "second_mm_s": 152.4, "apart_mm": 609.6}, 0.3453),
    ],
)
def test_roll_tests_of_each_kind(screen: Screen, measured: object, percent: float) -> None:
    """Dynamics section C's three ways and their figures."""
    said = post(screen, "/api/pace/rolls", {"car": "boxcar", "measured": measured}, 201)
    assert said["percent"] == pytest.approx(percent, abs=5e-5)


def test_chocks_follow_from_the_freest_car(screen: Screen) -> None:
    before = {one["spur"]: one for one in screen.guest.get("/api/pace/track").get_json()["spurs"]}
    assert "no car has been measured" in before["quarry"]["let_go"]
    for rise in (25, 4, 12):
        body = {"car": f"car {rise}", "measured": {"way": "tilt", "rise_mm": rise, "run_mm": 1000}}
        post(screen, "/api/pace/rolls", body, 201)
    post(screen, "/api/pace/places", {"spur": "quarry", "way_mm": 600, "cuts": 2})
    found = screen.guest.get("/api/pace/track").get_json()
    quarry = next(one for one in found["spurs"] if one["spur"] == "quarry")
    assert (quarry["way_mm"], quarry["cuts"]) == (600, 2)
    for one in found["spurs"]:
        steep = one["grade_percent"] >= 0.5 or one["grade_percent"] * 1.5 >= 0.4
        assert (one["chocks"] > 0) == steep
        assert one["enough"] == (one["fitted"] >= one["chocks"])
    post(screen, "/api/pace/places", {"spur": "nowhere", "way_mm": 600}, 404)
    post(screen, "/api/pace/rolls/1/forget", {})
    post(screen, "/api/pace/rolls/1/forget", {}, 404)
    assert len(rolls_of(screen.engine, TARN)) == 2


def test_a_ramp_that_cannot_be_is_refused(screen: Screen) -> None:
    body = {"car": "A", "measured": {"way": "ramp", "height_mm": 90, "to_rest_mm": 90}}
    assert "longer than the ramp" in post(screen, "/api/pace/rolls", body, 422)["error"]


def test_spoilt_rows_hide_no_others(screen: Screen) -> None:
    measured(screen)
    made(screen, name="No. 8")
    post(screen, "/api/pace/rolls",
         {"car": "A", "measured": {"way": "tilt", "rise_mm": 12, "run_mm": 1000}}, 201)  # fmt: skip
    with screen.engine.begin() as connection:
        connection.execute(text("UPDATE locomotive SET runs = '[{]' WHERE name = 'No. 8'"))
        connection.exec_driver_sql(
            "INSERT INTO roll (layout_name, car, measured, wall_us) VALUES "
            '(\'Tarn Hollow\', \'B\', \'{"way":"ramp","height_mm":9,"to_rest_mm":1}\', 1)'
        )
        connection.execute(
            text("INSERT INTO setting (name, value) VALUES ('standing-cars', '[1,')")
        )
    assert len(screen.guest.get(LOCOMOTIVES).get_json()["locomotives"]) == 1
    assert [one["car"] for one in screen.guest.get("/api/pace/track").get_json()["rolls"]] == ["A"]


def test_a_calibration_is_a_line_for_the_layout_file(screen: Screen) -> None:
    [trap, *_] = screen.guest.get("/api/pace/track").get_json()["traps"]
    body = {"trap": trap["id"], "shown": [19.8, 19.8], "true_mph": 20}
    said = post(screen, "/api/pace/calibration", body)
    assert said["distance_mm"] == pytest.approx(trap["distance_mm"] * 20 / 19.8, abs=0.06)
    assert said["line"] == f"distance_mm = {said['distance_mm']}"
    for wrong in ({}, {"seconds": 3}, {"seconds": 3, "distance_mm": 9, "true_mph": 2}):
        body = {"trap": trap["id"], "shown": [20]} | wrong
        assert "long distance" in post(screen, "/api/pace/calibration", body, 422)["error"]
    body = {"trap": trap["id"], "shown": [5], "true_mph": 20}
    assert "check the long distance" in post(screen, "/api/pace/calibration", body, 422)["error"]
    post(screen, "/api/pace/calibration", body | {"trap": "none"}, 404)


def test_a_brake_test_is_told_beforehand(screen: Screen) -> None:
    said = screen.guest.get("/api/pace/air?cars=3&miles=12").get_json()
    assert said["source"].startswith("49 CFR 232.215")
    ratio = screen.guest.get("/api/pace/track").get_json()["clock_ratio"]
    assert said["charge_s"] == pytest.approx(3 * 0.3065 * 60 / ratio, abs=0.06)
    rising = [psi for _, psi in said["gauge"]]
    assert rising == sorted(rising)
    assert rising[0] == 0
    for wrong in (
        "cars=0",
        "cars=x",
        "miles=-1",
        "miles=nan",
        "work=none",
        "more=1",
        "miles=1e999",
    ):
        assert screen.guest.get(f"/api/pace/air?{wrong}").status_code == 400, wrong


def test_numbers_that_are_none_are_refused(screen: Screen) -> None:
    number = made(screen)
    for body in (
        '{"step":1,"forward":true,"mph":NaN}',
        '{"step":1,"forward":true,"mph":1e999}',
        '{"step":0,"forward":true,"mph":1}',
        '{"step":40,"forward":true,"mph":1}',
    ):
        said = screen.client.post(
            f"{LOCOMOTIVES}/{number}/runs", data=body, content_type="application/json"
        )
        assert said.status_code in {400, 422}, body


def test_the_card_is_printed_from_what_is_measured(screen: Screen) -> None:
    number = measured(screen, name="<b>No. 7</b>", top_mph=24)
    said = screen.client.get(f"/pace/locomotives/{number}/card")
    assert said.status_code == 200
    assert "&lt;b&gt;No. 7&lt;/b&gt;" in said.text
    assert "CV94" in said.text
    assert screen.client.get("/pace/locomotives/99/card").status_code == 404
    assert screen.client.get(f"/pace/locomotives/{made(screen)}/card").status_code == 422


def test_everything_is_described() -> None:
    paths = {path for path in description()["paths"] if path.startswith("/api/pace/")}
    assert len(paths) == 12
