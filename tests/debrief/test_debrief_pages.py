"""The pages, the JSON and the tables, over evenings that the core has judged."""

from __future__ import annotations

import csv
import io
import time
import xml.etree.ElementTree as ET
from random import Random

import pytest

from debrief import debrief_player as player
from debrief.debrief_player import Crew, Evening
from debrief.debrief_screen import Screen
from firmware_py.core.names import Command
from firmware_py.logbook.screen.settings import change
from web.debrief import library as libraries
from web.debrief.library import Library, Shelf
from web.debrief.source import header, headers

US = 1_000_000
BEGAN = 1_900_000_000 * US


@pytest.fixture
def evenings(url: str) -> list[int]:
    """Three evenings of two crews each, the later ones with fewer slips."""
    player.keep_jobs(url)
    return [
        player.evening_of_jobs(url, BEGAN + index * 86_400 * US, index + 1, slips=0.08)
        for index in range(3)
    ]


def test_before_any_session_there_is_a_page_that_says_what_to_do(screen: Screen) -> None:
    page = screen.guest.get("/debrief")
    assert page.status_code == 200
    assert "Open a session" in page.text
    assert screen.guest.get("/debrief/1").status_code == 404
    assert screen.guest.get("/api/debrief/1").status_code == 404
    assert screen.guest.get("/debrief/1/entries.csv").status_code == 404
    assert screen.guest.get("/api/restore-check").status_code == 409


def test_the_newest_opened_session_is_told_of_and_any_other_by_its_number(
    url: str, evenings: list[int], screen: Screen
) -> None:
    Evening(url, BEGAN + 9 * 86_400 * US, opened=False).leave()
    page = screen.guest.get("/debrief").text
    assert f'data-session="{evenings[-1]}"' in page
    assert page == screen.guest.get(f"/debrief/{evenings[-1]}").text
    first = screen.guest.get(f"/debrief/{evenings[0]}").text
    assert "This is the first session of this layout" in first
    assert "between sessions" in screen.guest.get(f"/debrief/{evenings[-1] + 1}").text
    for session in (0, 99, 10**30):
        assert screen.guest.get(f"/debrief/{session}").status_code == 404


def test_the_page_has_its_drawings_and_no_inline_style_or_script(
    evenings: list[int], screen: Screen
) -> None:
    page = screen.guest.get("/debrief").text
    for name in ("timeline", "steps-plot", "waiting-plot", "speeds-plot", "trend-plot"):
        assert f'class="plot {name}"' in page
    assert "style=" not in page
    assert "<script>" not in page
    assert "onclick" not in page
    assert "What went well" in page
    begin = page.index("<article")
    sheet = page[begin : page.index("</article>") + len("</article>")]
    for empty in ("hidden", "data-day"):
        sheet = sheet.replace(f" {empty}>", ">").replace(f" {empty} ", " ")
    for drawing in sheet.split("<svg")[1:]:
        ET.fromstring(f"<svg{drawing.partition('</svg>')[0]}</svg>")


def test_a_hostile_layout_and_notes_stay_words(url: str, screen: Screen) -> None:
    hostile = "<script>alert(1)</script>"
    toml = player.TOML.replace('name = "Lamp-oil dock"', f'name = "{hostile}"').replace(
        '"Wendlebeck valley"', f'"{hostile}"'
    )
    evening = Evening(url, BEGAN, toml)
    evening.read("oil-dock-switch.normal", False, 5)
    evening.wait(1)
    evening.acknowledge(1, f"{hostile} =HYPERLINK(1)")
    evening.wait(30)
    session = evening.end()
    page = screen.guest.get("/debrief").text
    assert hostile not in page
    assert "&lt;script&gt;alert(1)" in page
    assert screen.guest.get(f"/debrief/{session}/violations.csv").status_code == 200


def test_figures_worked_by_hand(url: str, screen: Screen) -> None:
    """One round at the creamery: asked at 10 s, answered at 40; a test of 17.528 s; shut at 330."""
    evening = Evening(url, BEGAN)
    evening.wait(10)
    evening.order(Command.ASK, "creamery")
    evening.wait(30)
    evening.order(Command.RELEASE, "creamery")
    evening.read("upper-key.hook", False, 5)
    evening.read("creamery-flag.rack", True, 5)  # 50 s
    evening.read("creamery-switch.hasp", False, 10)
    evening.read("creamery-switch.normal", False, 1)
    evening.read("creamery-switch.reverse", True, 1)
    evening.read("creamery-chock.rack", True, 8)  # 70 s
    evening.read("creamery-switch.detector", True, 30)  # 100 s
    evening.wait(10)
    evening.order(Command.START_BRAKE_TEST, "creamery", cars=3)
    evening.wait(90)  # 200 s
    evening.read("creamery-switch.detector", False)
    evening.wait(50)
    evening.order(Command.WORK_DONE, "creamery")
    evening.order(Command.HAND_BACK, "creamery")
    evening.read("creamery-flag.rack", False, 20)
    evening.read("creamery-switch.reverse", False, 20)
    evening.read("creamery-switch.normal", True, 2)
    evening.read("creamery-switch.hasp", True, 38)  # 330 s
    evening.wait(270)
    session = evening.end()
    told = screen.guest.get(f"/api/debrief/{session}").json
    assert told["length_us"] == 600 * US
    assert told["rounds"] == 1
    assert told["violations"] == []
    waiting = told["waiting"]
    assert waiting["foreman_us"] == 30 * US
    assert waiting["brake_test_us"] == pytest.approx(17.528 * US, abs=1_000)
    assert waiting["time_us"] == pytest.approx(320 * US, abs=30_000)
    assert waiting["percent"] == pytest.approx(100 * 47.528 / 320, abs=0.05)
    assert told["keys_not_home"] == [{"key": "upper-key", "known": True}]
    steps = {(one["phase"], one["step"]): one["now"]["median_us"] for one in told["steps"]}
    assert steps["opening", "foreman"] == 30 * US
    assert steps["opening", "creamery-flag"] == pytest.approx(10 * US, abs=60_000)
    assert steps["closing", "creamery-switch"] == pytest.approx(60 * US, abs=60_000)
    assert told["earlier_sessions"] == 0
    assert told["summary"]["talk"] == ["Not on its hook: Upper valley switch key."]
    assert "Not one rule was broken." in told["summary"]["well"]


def test_steps_are_compared_with_earlier_sessions_of_the_same_layout_only(
    url: str, evenings: list[int], screen: Screen
) -> None:
    other = Evening(url, BEGAN + 5 * 86_400 * US, player.TOML.replace("Wendlebeck", "Elsewhere"))
    other.wait(60)
    other.end()
    told = screen.guest.get(f"/api/debrief/{evenings[2]}").json
    assert told["earlier_sessions"] == 2
    before = [screen.guest.get(f"/api/debrief/{one}").json["steps"] for one in evenings[:2]]
    counted = {
        key: sum(s["now"]["count"] for steps in before for s in steps if _key(s) == key)
        for key in {_key(s) for steps in before for s in steps}
    }
    for one in told["steps"]:
        assert (one["before"] or {"count": 0})["count"] == counted.get(_key(one), 0)
    assert [one["session"] for one in told["sessions"]] == evenings
    assert screen.guest.get(f"/api/debrief/{other.session}").json["earlier_sessions"] == 0


def _key(step: dict[str, str]) -> tuple[str, str, str]:
    return step["spur"], step["phase"], step["step"]


def test_rounds_cars_and_waiting_are_told_by_job(evenings: list[int], screen: Screen) -> None:
    told = screen.guest.get(f"/api/debrief/{evenings[0]}").json
    names = {one["name"] for one in told["waiting_by_job"]}
    assert names >= {"Morning turn", "Foundry turn"}
    assert told["sessions"][-1]["cars"] > 0
    page = screen.guest.get(f"/debrief/{evenings[0]}").text
    assert 'aria-label="Timeline of each job"' in page
    assert "Amber crew" in page


def test_the_hosts_ceiling_is_what_waiting_is_held_against(
    evenings: list[int], screen: Screen
) -> None:
    assert screen.guest.get(f"/api/debrief/{evenings[0]}").json["ceiling_percent"] == 25
    change(screen.engine, "waiting-ceiling", "1")
    told = screen.guest.get(f"/api/debrief/{evenings[0]}").json
    assert told["ceiling_percent"] == 1
    assert any("above your ceiling of 1 %" in one for one in told["summary"]["talk"])


# Tables.


def rows_of(screen: Screen, session: int, name: str) -> list[dict[str, str]]:
    answer = screen.guest.get(f"/debrief/{session}/{name}.csv")
    assert answer.status_code == 200
    assert answer.mimetype == "text/csv"
    assert f"session-{session}-{name}.csv" in answer.headers["Content-Disposition"]
    text = answer.data.decode("utf-8")
    assert text.endswith("\r\n")
    return list(csv.DictReader(io.StringIO(text, newline="")))


def test_tables_read_back_as_what_was_logged(evenings: list[int], screen: Screen) -> None:
    session = evenings[1]
    entries = rows_of(screen, session, "entries")
    logged = screen.reader.entries(session, limit=100_000)
    assert len(entries) == len(logged)
    for row, entry in zip(entries, logged, strict=True):
        assert float(row["seconds"]) * US == pytest.approx(entry.t_us, abs=0.5)
        assert row["what"] == entry.what
        assert row["at"] == (entry.at or "")
    violations = rows_of(screen, session, "violations")
    kept = list(reversed(screen.reader.violations(session)))
    assert [int(row["number"]) for row in violations] == [one.number for one in kept]
    assert [row["rule"] for row in violations] == [one.rule for one in kept]
    told = screen.guest.get(f"/api/debrief/{session}").json
    steps = rows_of(screen, session, "steps")
    for one in told["steps"]:
        mine = [float(row["seconds"]) for row in steps if _key(row) == _key(one)]
        now = one["now"]
        assert sum(mine) * US >= now["median_us"] * 0.999
        assert len(mine) >= now["count"]


@pytest.mark.parametrize("start", ["=", "+", "-", "@", "\t", "\r"])
def test_no_note_becomes_a_formula(url: str, screen: Screen, start: str) -> None:
    note = f'{start}cmd|" /C calc"!A0, "quoted"\nsecond line'
    evening = Evening(url, BEGAN)
    evening.read("foundry-switch.normal", False, 5)
    evening.wait(1)
    evening.acknowledge(1, note)
    session = evening.end()
    [row] = rows_of(screen, session, "violations")
    assert row["note"] == f"'{note}"
    assert float(row["seconds"]) > 0


# Building and keeping.


def test_finished_evenings_are_built_once_and_only_so_many_kept(
    url: str, evenings: list[int], screen: Screen, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(libraries, "KEPT_EVENINGS", 2)
    library = Library(screen.reader)
    known = {one.id: one for one in headers(screen.engine)}
    first = library.told(known[evenings[0]], 0, None)
    assert library.told(known[evenings[0]], 0, None) is first
    for session in evenings:
        library.told(known[session], 0, None)
    assert len(library.evenings) == 2
    assert library.told(known[evenings[0]], 0, None) is not first
    [digest, _] = library.digests_of([known[one] for one in evenings[:2]], ())
    assert library.digests_of([known[evenings[0]]], ())[0] is digest


def test_a_shelf_gives_up_what_was_wanted_longest_ago() -> None:
    shelf: Shelf[str] = Shelf(2)
    assert [shelf.get(key, lambda key=key: key.upper()) for key in "abacb"] == list("ABACB")  # type: ignore[misc]
    assert len(shelf) == 2
    assert shelf.get("c", lambda: "made anew") == "C"
    assert shelf.get("a", lambda: "made anew") == "made anew"


def test_the_session_that_runs_is_told_of_so_far(url: str, screen: Screen) -> None:
    evening = Evening(url, time.time_ns() // 1_000 - 100 * US)
    evening.wait(10)
    evening.order(Command.ASK, "creamery")
    assert evening.keeper.flush()
    screen.look()
    one = header(screen.engine, evening.session)
    assert one is not None
    assert not one.ended
    now_us = evening.began_wall_us + 70 * US
    told = Library(screen.reader).told(one, now_us, None)
    assert told.evening.length_us == 70 * US
    assert told.evening.waits[0].open
    assert told.evening.waits[0].lasts_us == 60 * US
    assert {one.known for one in told.evening.keys_out} == {False}, (
        "nobody guards: nothing is known"
    )
    assert "goes on still" in screen.guest.get("/debrief").text
    evening.end()


def test_a_session_that_was_cut_off_ends_with_its_last_entry(url: str, screen: Screen) -> None:
    evening = Evening(url, BEGAN)
    evening.wait(40)
    evening.order(Command.ASK, "creamery")
    evening.leave()
    Evening(url, BEGAN + 600 * US, opened=False).leave()
    told = screen.guest.get(f"/api/debrief/{evening.session}").json
    assert told["ended"] is True
    assert told["length_us"] == 40 * US


# Opening and closing.


def test_only_the_host_may_turn_a_session_and_only_while_the_engine_answers(
    url: str, screen: Screen
) -> None:
    def ask(client: object, body: object) -> int:
        return int(client.post("/api/session", json=body).status_code)  # type: ignore[attr-defined]

    assert ask(screen.host, {"command": "open"}) == 409
    evening = Evening(url, BEGAN, opened=False)
    evening.keeper.pulse("guarding")
    assert evening.keeper.flush()
    screen.look()
    assert ask(screen.host, {"command": "open"}) == 409, "its heart was not heard to beat yet"
    evening.keeper.pulse("guarding")
    assert evening.keeper.flush()
    screen.look()
    assert ask(screen.guest, {"command": "open"}) == 401
    assert ask(screen.host, {"command": "pause"}) == 400
    assert ask(screen.host, {"command": "open", "more": 1}) == 400
    assert ask(screen.host, ["open"]) == 400
    assert screen.host.get("/api/session").status_code == 405
    answer = screen.host.post("/api/session", json={"command": "open"})
    assert answer.status_code == 202
    left = screen.reader.request(answer.json["request"])
    assert (left.kind, left.command, left.accepted) == ("session", "open", None)
    evening.leave()


def test_the_restore_check_is_for_everybody_to_see(url: str, screen: Screen) -> None:
    evening = Evening(url, BEGAN)
    evening.keeper.pulse("guarding")
    assert evening.keeper.flush()
    screen.look()
    evening.read("creamery-flag.rack", True, 5)
    evening.wait(1)
    evening.keeper.pulse("guarding")
    assert evening.keeper.flush()
    screen.look()
    told = screen.guest.get("/api/restore-check").json
    assert told["live"] is True
    assert told["clear"] is False
    assert told["session"] == evening.session
    assert [place["id"] for place in told["places"]] == ["creamery"]
    things = [item["thing"] for item in told["places"][0]["items"]]
    assert things == ["creamery-flag", "1"], "and what was out of order"
    evening.leave()
    assert screen.guest.get("/session").status_code == 200


def test_a_crew_that_never_errs_leaves_nothing_to_talk_about(url: str, screen: Screen) -> None:
    evening = Evening(url, BEGAN)
    crew = Crew(evening, Random(3), slips=0.0)
    for spur in ("creamery", "sawmill", "oil-dock", "foundry", "team-track", "brickyard"):
        crew.work(spur)
    session = evening.end()
    told = screen.guest.get(f"/api/debrief/{session}").json
    assert told["violations"] == []
    assert told["rounds"] == 6
    assert told["summary"]["talk"] == []
    assert told["keys_not_home"] == []
