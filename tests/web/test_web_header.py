"""The board's head: the layout's clock, the keys and with whom they are, the foreman's desk."""

from __future__ import annotations

import time

import pytest
from web_filled import LAYOUT, Filler
from web_screen import Screen

from firmware_py.core.names import Command
from firmware_py.layout.reading import parse_layout
from firmware_py.logbook.records import StandingRecord
from firmware_py.logbook.screen.jobs import Job, JobStop, save_job
from firmware_py.logbook.screen.settings import change
from firmware_py.logbook.screen.ticks import Step, Tick, make_tick
from web.live.board import Board, Work
from web.live.clocks import DEFAULT_START, SETTING, starts_us, time_of_day_us
from web.live.crews import AtWork, at_work, crews_at
from web.live.desk import desk_view
from web.live.keys import NOBODY, keys_view, with_whom
from web.live.plan import Plan

HOUR_US = 3_600_000_000
PLAN = Plan(parse_layout(LAYOUT.read_text(encoding="utf-8"), LAYOUT.name))


@pytest.mark.parametrize(
    ("text", "hours"),
    [
        ("8:00 am", 8),
        ("12:00 am", 0),
        ("12:30 pm", 12.5),
        ("8 pm", 20),
        ("20:15", 20.25),
        (" 7.45 AM ", 7.75),
        ("0:00", 0),
    ],
)
def test_a_time_of_day_is_read_as_people_write_it(text: str, hours: float) -> None:
    assert time_of_day_us(text) == round(hours * HOUR_US)


@pytest.mark.parametrize("text", ["", "24:00", "8:60", "13:00 pm", "0 am", "noon", "8:0", "٨:00"])
def test_what_is_no_time_of_day_leaves_the_default(text: str) -> None:
    assert time_of_day_us(text) is None
    assert starts_us(text) == starts_us(None) == time_of_day_us(DEFAULT_START)


def job(number: int, *spurs: str, keys: tuple[str, ...] = (), crew: str = "") -> Job:
    stops = tuple(JobStop(spur) for spur in spurs)
    return Job(f"Job {number}", crew, keys=keys, stops=stops, id=number)


def tick(number: int, stop: int, step: Step, at: int = 5) -> Tick:
    return Tick(number, stop, step, at, at)


def test_a_crew_is_where_it_says_it_is_and_planned_where_it_goes() -> None:
    jobs = [job(1, "quarry", "dairy", crew="Ada"), job(2, "dairy")]
    working = at_work(jobs, [tick(1, 0, Step.HERE)], {})
    [here] = crews_at("quarry", working)
    assert (here["name"], here["crew"], here["says"]) == ("Job 1", "Ada", "here")
    assert [one["job"] for one in crews_at("dairy", working)] == [1, 2]
    assert {one["says"] for one in crews_at("dairy", working)} == {"planned"}
    assert crews_at("coal", working) == []


def test_a_crew_that_went_on_is_no_longer_at_the_spur() -> None:
    ticks = [tick(1, 0, Step.HERE), tick(1, 0, Step.LEFT, 9)]
    [one] = at_work([job(1, "quarry")], ticks, {})
    assert (one.here, one.begun, one.ahead, one.under_way) == (None, True, (), False)


def test_a_job_that_was_taken_away_is_named_nowhere() -> None:
    gone = Job("Gone", stops=(JobStop("quarry"),), id=3, dropped=True)
    assert at_work([gone], [], {}) == ()


def at(
    number: int,
    here: str | None,
    *ahead: str,
    keys: tuple[str, ...] = ("quarry-key",),
    begun: bool = True,
    crew: str = "",
) -> AtWork:
    return AtWork(job(number, *ahead, keys=keys, crew=crew), here, False, begun, ahead)


def test_a_key_is_with_the_crew_that_is_where_it_fits() -> None:
    working = [at(1, None, "quarry"), at(2, "quarry", "quarry", crew="Bo")]
    assert with_whom("quarry-key", ["quarry"], working) == "Job 2 (Bo)"


def test_a_key_is_with_those_under_way_before_those_who_have_not_begun() -> None:
    waiting, going = at(1, None, "quarry", begun=False), at(2, "dairy", "dairy")
    assert with_whom("quarry-key", ["quarry"], [waiting, going]) == "Job 2"
    assert with_whom("quarry-key", ["quarry"], [waiting]) == "Job 1"
    both = [going, at(3, None, "coal")]
    assert with_whom("quarry-key", ["quarry"], both) == "Job 2 or Job 3"


def test_a_crew_where_the_key_fits_has_it_though_its_job_does_not_list_it() -> None:
    assert with_whom("quarry-key", ["quarry"], [at(1, "quarry", "quarry", keys=())]) == "Job 1"


def test_nobody_is_named_where_nothing_is_known() -> None:
    assert with_whom("quarry-key", ["quarry"], []) == NOBODY
    assert with_whom("quarry-key", ["quarry"], [at(1, "dairy", "dairy", keys=())]) == NOBODY
    through = AtWork(job(1, "quarry", keys=("quarry-key",)), None, False, True, ())
    assert with_whom("quarry-key", ["quarry"], [through]) == NOBODY


@pytest.mark.parametrize(
    ("settled", "live", "state", "says", "since"),
    [
        (True, True, "home", "on its hook", None),
        (False, True, "out", "out, nobody named", 77),
        (None, True, "unknown", "unknown: look at its hook", None),
        (True, False, "unknown", "unknown: look at its hook", None),
    ],
)
def test_a_key_is_where_its_hook_says(
    settled: bool | None, live: bool, state: str, says: str, since: int | None
) -> None:
    standing = {"quarry-key.hook": StandingRecord("quarry-key.hook", settled, settled, 1, 77)}
    key = keys_view(PLAN, standing, (), live=live)["quarry-key"]
    assert (key["state"], key["says"], key["since_wall_us"]) == (state, says, since)
    assert key["fits"] == ["Slate quarry"]


def test_the_desk_has_the_longest_wait_first_and_those_told_not_yet_last() -> None:
    board = Board()
    board.work["quarry"] = Work("opening", "foreman", foreman="held", asked_us=1)
    board.work["dairy"] = Work("opening", "foreman", foreman="asked", asked_us=9)
    board.work["tannery"] = Work("opening", "foreman", foreman="asked", asked_us=2)  # By itself.
    waits = desk_view(PLAN, board, (), live=True)
    assert [(one["spur"], one["word"]) for one in waits] == [("dairy", "asked"), ("quarry", "held")]
    assert [one["command"] for one in waits[0]["commands"]] == ["release", "hold"]
    assert [one["command"] for one in waits[1]["commands"]] == ["release"]
    board.work["quarry"] = Work("closing", "foreman", since_us=4, foreman="released", asked_us=1)
    back = desk_view(PLAN, board, (), live=True)[0]
    assert (back["spur"], back["word"], back["since_us"]) == ("quarry", "back", 4)
    assert [one["command"] for one in back["commands"]] == ["hand-back"]


def test_nothing_waits_at_the_desk_of_an_engine_that_does_not_guard() -> None:
    board = Board(work={"dairy": Work("opening", "foreman", foreman="asked")})
    assert desk_view(PLAN, board, (), live=False) == []


def test_the_screen_tells_the_desk_the_keys_the_crews_and_the_layouts_clock(
    screen: Screen, filler: Filler
) -> None:
    now = time.time_ns() // 1_000
    keys = ("quarry-key",)
    made = Job("Slate drag", "Ada", keys=keys, stops=(JobStop("quarry"), JobStop("dairy")))
    number = save_job(screen.engine, "Tarn Hollow", made, now)
    change(screen.engine, SETTING, "6:30 pm")
    filler.read(5, "quarry-key.hook", False)
    filler.order(20, Command.ASK, "quarry")
    filler.wait(30)
    make_tick(screen.engine, filler.session_id, Tick(number, 0, Step.HERE, 10**9, now))
    state = screen.wake(filler)
    assert state["evening"] == {
        "opened": True,
        "clock_ratio": filler.layout.clock_ratio,
        "starts_us": round(18.5 * HOUR_US),
    }
    [wait] = state["desk"]
    assert (wait["spur"], wait["crew"]) == ("quarry", "Slate drag (Ada)")
    assert wait["since_us"] == 20_000_000
    assert state["keys"]["quarry-key"]["says"] == "out, with Slate drag (Ada)"
    [crew] = state["rows"]["quarry"]["crews"]
    assert (crew["name"], crew["says"]) == ("Slate drag", "here")
    assert state["rows"]["quarry"]["why"] == []
    assert state["rows"]["dairy"]["crews"][0]["says"] == "planned"


def test_a_note_and_when_it_was_acknowledged_stay_with_the_violation(
    screen: Screen, filler: Filler
) -> None:
    filler.read(10, "tannery-switch.normal", False)
    filler.wait(12)
    filler.keeper.acknowledged(1, 15_000_000, "showed them <b>how</b>")
    state = screen.wake(filler)
    assert state["violations"]["1"]["note"] == "showed them <b>how</b>"
    assert state["violations"]["1"]["acknowledged_us"] == 15_000_000
