"""A job's sheet and the briefing: what they say, to whom, and that texts stay texts."""

from __future__ import annotations

import json
import re
from pathlib import Path
from typing import Any

import pytest
import zxingcpp
from jobs_samples import LAYOUT, NAILS, SLATE, SLATE_BODY
from PIL import Image
from web_screen import Screen

from firmware_py.core.pace import brake_test_seconds
from firmware_py.logbook.screen.jobs import Car, Job, JobStop, save_job
from web.jobs.briefing import briefing_of, number, span
from web.jobs.settings import OWN_STEPS
from web.jobs.sheet import qr_svg, sheet_of
from web.live.plan import Plan

SCRIPT = "<script>alert('x')</script><b onclick=x>"


def sheet(screen: Screen, job: Job = SLATE) -> str:
    save_job(screen.engine, "Tarn Hollow", job, 1)
    said = screen.client.get("/jobs/1/sheet")
    assert said.status_code == 200
    return said.text


def words(html: str) -> str:
    return " ".join(re.sub(r"<[^>]+>", " ", html).split())


def test_the_steps_are_the_layouts_own_in_their_order() -> None:
    stop = sheet_of(SLATE, Plan(LAYOUT), OWN_STEPS).stops[0]
    assert stop.before == (
        "Ask the foreman for the spur, and wait for the answer",
        "Take down the West flag",
        "Unlock the Quarry switch and line it",
        "Unlock and open the Quarry gate",
        "Hang the Quarry chock in its rack",
        "Sound the horn or bell",
    )
    assert stop.after == (
        "Stretch the couplings",
        "Set the Quarry chock against a wheel",
        "Shut and lock the Quarry gate",
        "Hand the spur back to the foreman",
        "Put up the West flag",
        "Line the Quarry switch for the main and lock it",
    )


def test_the_crews_own_steps_stand_where_they_belong_and_can_be_switched_off() -> None:
    with_them = sheet_of(SLATE, Plan(LAYOUT), OWN_STEPS)
    assert with_them.leaving == ("Have a word with the yard", "Hang the marker on the last car")
    assert with_them.stops[1].after[0] == "Hang the marker on the last car"
    without = sheet_of(SLATE, Plan(LAYOUT), ())
    assert without.leaving == ()
    assert "Sound" not in str(without.stops)
    assert "couplings" not in str(without.stops)
    no_rear = sheet_of(NAILS, Plan(LAYOUT), OWN_STEPS)
    assert no_rear.leaving == ("Have a word with the yard",)


def test_the_keys_say_what_they_are_for() -> None:
    key = sheet_of(SLATE, Plan(LAYOUT), ()).keys[0]
    assert (key.name, key.spurs) == ("Quarry key", ("Slate quarry",))


def test_a_sheet_is_the_hosts(screen: Screen) -> None:
    sheet(screen)
    said = screen.guest.get("/jobs/1/sheet")
    assert said.status_code == 401
    assert not any(secret in said.text for secret in ("Slate", "/crew/", "Nobody smokes"))
    assert screen.client.get("/jobs/2/sheet").status_code == 404
    assert screen.client.get(f"/jobs/{2**70}/sheet").status_code == 404


def test_the_notes_and_places_are_on_the_slips_alone(screen: Screen) -> None:
    before, slips = sheet(screen).split('<details class="slips">')
    assert "Nobody smokes here." not in before
    assert "behind the shed" not in before
    assert "powder car" in before
    assert "see the note in the industry's box" in words(before).replace("&#39;", "'")
    assert "Nobody smokes here.\nThe shed is kept shut." in slips
    assert "behind the shed, alone" in slips
    assert slips.count('class="slip"') == 1


def test_the_code_leads_to_the_crews_page_and_is_typed_below(screen: Screen) -> None:
    html = sheet(screen)
    path = screen.client.get("/api/jobs").get_json()["jobs"][0]["link"]
    url = f"http://localhost{path}"
    assert f'href="{url}"' in html
    assert url in words(html.replace("<wbr>", ""))
    assert f'role="img" aria-label="QR code to the crew\'s page">{qr_svg(url)}' in html
    assert "A phone can't reach this QR code's address" in words(html).replace("&#39;", "'")
    screen.client.post("/api/settings", json={"address": "http://192.168.7.20:8080"})
    html = screen.client.get("/jobs/1/sheet").text
    assert f'href="http://192.168.7.20:8080{path}"' in html
    assert "can't reach" not in html.replace("&#39;", "'")


def test_a_camera_reads_the_code() -> None:
    """By another program than the one that drew it: ZXing."""
    url = "http://192.168.7.20:8080/crew/abcdefghijklmnop2345"
    drawn = qr_svg(url)
    size = int(re.search(r'viewBox="0 0 (\d+) \1"', drawn)[1])  # type: ignore[index] # It is there.
    image = Image.new("L", (size, size), 255)
    path = re.search(r'class="?[^>]*stroke="#000"[^>]*d="([^"]+)"|d="(M4[^"]+)"', drawn)
    assert path is not None
    _draw(image, path[1] or path[2])
    found = zxingcpp.read_barcodes(image.resize((size * 8, size * 8)))
    assert [code.text for code in found] == [url]


def _draw(image: Image.Image, path: str) -> None:
    """Horizontal strokes of one module's height, as segno writes them."""
    x, y = 0.0, 0.0
    for letter, numbers in re.findall(r"([Mmh])([-0-9. ]+)", path):
        values = [float(one) for one in re.findall(r"-?[0-9.]+", numbers)]
        if letter == "M":
            x, y = values
        elif letter == "m":
            x, y = x + values[0], y + values[1]
        else:
            for at in range(round(values[0])):
                image.putpixel((round(x) + at, int(y)), 0)
            x += values[0]


@pytest.mark.parametrize("where", ["name", "crew", "note", "car", "place"])
def test_a_text_stays_a_text(screen: Screen, where: str) -> None:
    body: dict[str, Any] = json.loads(json.dumps(SLATE_BODY))
    stop = body["stops"][0]
    if where in {"car", "place"}:
        stop["pull"][0][where] = stop["spot"][0][where] = SCRIPT
    else:
        (stop if where == "note" else body)[where] = SCRIPT
    assert screen.client.post("/api/jobs", json=body).status_code == 201
    html = screen.client.get("/jobs/1/sheet").text
    assert "&lt;script&gt;" in html
    assert "<script>alert" not in html
    assert "<b onclick" not in html
    assert screen.client.get("/api/jobs").mimetype == "application/json"


def test_a_job_whose_spur_is_gone_says_so(screen: Screen) -> None:
    gone = Job("Old", stops=(JobStop("mill", (Car("box car"),)),))
    html = words(sheet(screen, gone))
    assert "This layout has no spur of this name now" in html
    assert "box car" in html


@pytest.mark.parametrize("page", ["/jobs", "/briefing", "/jobs/1/sheet"])
def test_pages_have_no_inline_script_or_style(screen: Screen, page: str) -> None:
    sheet(screen)
    html = screen.client.get(page).text
    assert not re.search(r"<script(?![^>]*\bsrc=)|\bstyle=|<style|\bon\w+=", html)


def test_the_briefing_has_the_layouts_numbers(screen: Screen) -> None:
    html = words(screen.guest.get("/briefing").text)
    for said in (
        "Safety first",
        "Low voltage only.",
        "Nobody reaches over a moving train.",
        "Nothing here is for a real railway.",
        "Nobody is in a hurry.",
        "Quarry approach: at most 10 scale mph.",
        "3 cars 18 s",
        "for Slate quarry, Dairy",
        "Tannery in 20 s to 1 min",
        "idle for more than 10 min",
        "Treat it as red.",
    ):
        assert said in html
    places = [html.index(f" {word} ") for word in ("Unlock", "Line", "Use", "Restore", "Relock")]
    assert places == sorted(places)


def test_the_brake_tests_are_the_rulebooks() -> None:
    """Three cars at 6:1 take 17.528 s (rulebook section 11); told in whole seconds, never less."""
    told = dict(briefing_of(LAYOUT).tests)
    assert told[3] == "18 s"
    assert told[10] == span(brake_test_seconds(10, 6)) == "39 s"


def test_times_and_numbers_as_people_say_them() -> None:
    assert [span(of) for of in (0.2, 1, 59.01, 60, 61, 599, 600, 660.5)] == [
        "1 s",
        "1 s",
        "1 min",
        "1 min",
        "1 min 1 s",
        "9 min 59 s",
        "10 min",
        "11 min",
    ]
    assert [number(of) for of in (6.0, 0.5, 1234.5)] == ["6", "0.5", "1234"]


def test_before_the_first_session_the_pages_say_what_to_do(path: Path) -> None:
    screen = Screen(path)
    screen.look()
    assert "start it with spurlock run" in words(screen.guest.get("/briefing").text)
    assert screen.guest.get("/jobs").status_code == 200
    assert screen.client.get("/api/jobs").status_code == 409
    assert screen.client.get("/jobs/1/sheet").status_code == 409
    screen.close()
