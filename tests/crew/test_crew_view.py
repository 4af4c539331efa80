"""A job's page from the yard to the keys' hooks: steps, lamps, gauges, words."""

from __future__ import annotations

import json
import math

import pytest
from crew_scene import MILK, NOTE, PLACE, SLATE, Scene

from firmware_py.core.names import Command
from firmware_py.core.pace import brake_test_seconds
from firmware_py.logbook.screen.jobs import Job, JobStop
from firmware_py.logbook.screen.ticks import Step
from web.crew import own, words
from web.crew.afterwards import work_says
from web.crew.gauges import ENOUGH_PSI, SOURCE_PSI, TAU_MINUTES_FOR_CAR


def test_one_step_at_a_time_through_a_whole_stop(scene: Scene) -> None:
    assert scene.next() == ("yard", "tick")
    scene.tick("yard")
    assert scene.next() == ("rear", "tick")
    scene.tick("rear")
    assert scene.next() == ("quarry-key", "do")
    scene.hand(("quarry-key.hook", False))
    assert scene.next() == ("ask", "do")
    scene.post("orders", {"command": "ask"})
    assert scene.next() == ("foreman", "wait")
    scene.order(Command.HOLD, "quarry")
    assert "not yet" in scene.view()["next"]["says"]
    scene.order(Command.RELEASE, "quarry")
    assert scene.next() == ("quarry-flag", "do")
    assert scene.view()["after"] == "Unlock the Quarry switch and line it"
    scene.hand(("quarry-flag.rack", True))
    assert scene.next() == ("quarry-switch", "do")
    scene.hand(("quarry-switch.hasp", False))
    scene.hand(("quarry-switch.normal", False), ("quarry-switch.reverse", True))
    assert scene.next() == ("quarry-gate", "do")
    scene.hand(("quarry-gate.hasp", False), ("quarry-gate.shut", False))
    assert scene.next() == ("quarry-chock", "do")
    scene.hand(("quarry-chock.rack", True))
    assert scene.next() == ("horn", "tick")
    scene.tick("horn")
    assert scene.next() == ("work", "work")
    scene.hand(("quarry-switch.detector", True))
    assert scene.view()["at"]["phase"] == "working"
    assert scene.next() == ("work", "work")
    scene.tick("stretch")
    assert scene.next() == ("clear", "do")
    scene.post("orders", {"command": "work-done"})
    assert scene.next() == ("quarry-gate", "do")
    scene.hand(("quarry-gate.shut", True), ("quarry-gate.hasp", True))
    assert scene.next() == ("foreman", "do")
    scene.post("orders", {"command": "hand-back"})
    assert scene.next() == ("quarry-flag", "do")
    scene.hand(("quarry-flag.rack", False))
    assert scene.next() == ("quarry-switch-clear", "do"), "the train still stands on the points"
    scene.hand(("quarry-switch.detector", False))
    assert scene.next() == ("quarry-switch", "do")
    scene.hand(("quarry-switch.reverse", False), ("quarry-switch.normal", True))
    assert scene.view()["after"] == "On to the Coal staithe"
    scene.hand(("quarry-switch.hasp", True))
    assert [stop["state"] for stop in scene.view()["stops"]] == ["done", "current"]
    assert scene.next() == ("ask", "do")
    assert scene.view()["violations"] == []


def test_after_the_last_stop_the_keys_go_home(scene: Scene) -> None:
    scene.at_work()
    scene.put_back()
    scene.tick("left", 1)
    step = scene.view()["next"]
    assert (step["id"], step["says"]) == ("quarry-key", "Hang the Quarry key on its hook")
    scene.hand(("quarry-key.hook", True))
    assert scene.next() == ("done", "done")


def test_the_last_stop_looks_at_the_rear_before_it_is_left(scene: Scene) -> None:
    scene.ready()
    scene.tick("left", 0)
    scene.post("orders", {"command": "ask"})
    scene.hand(("coal-switch.hasp", False), ("coal-switch.normal", False))
    scene.hand(("coal-switch.reverse", True), ("coal-derail.hasp", False))
    scene.hand(("coal-derail.on", False))
    scene.tick("horn", 1)
    view = scene.view()
    assert view["next"]["kind"] == "work"
    assert "marker" in view["next"]["how"]
    main = next(action for action in view["actions"] if action.get("main"))
    assert (main["step"], main["stop"]) == ("rear", len(SLATE.stops))
    assert scene.tick("rear", len(SLATE.stops)) == 200
    assert scene.next() == ("clear", "do")


def test_steps_that_the_host_switched_off_are_not_asked_for(scene: Scene) -> None:
    scene.set(own.SETTING, "[]")
    scene.hand(("quarry-key.hook", False))
    assert scene.next() == ("ask", "do")


@pytest.mark.parametrize(
    ("kept", "wanted"),
    [
        (None, own.ALL),
        ("[]", ()),
        ('["horn"]', (Step.HORN,)),
        ('["horn", "dance"]', (Step.HORN,)),
        ("nonsense", own.ALL),
        ("7", own.ALL),
    ],
)
def test_the_setting_of_the_crews_own_steps(kept: str | None, wanted: tuple[Step, ...]) -> None:
    assert own.wanted({} if kept is None else {own.SETTING: kept}) == frozenset(wanted)


def test_a_horn_of_an_earlier_round_does_not_count(scene: Scene) -> None:
    scene.opened()
    scene.hand(("quarry-gate.hasp", False), ("quarry-gate.shut", False))
    scene.hand(("quarry-chock.rack", True))
    scene.tick("horn")
    scene.put_back()
    assert scene.view()["stops"][0]["state"] == "current", "no train went in"
    scene.post("orders", {"command": "ask"})
    scene.order(Command.RELEASE, "quarry")
    scene.hand(("quarry-flag.rack", True), ("quarry-switch.hasp", False))
    scene.hand(("quarry-switch.normal", False), ("quarry-switch.reverse", True))
    scene.hand(("quarry-gate.hasp", False), ("quarry-gate.shut", False))
    assert scene.next() == ("horn", "tick")
    assert scene.tick("horn") == 200
    assert scene.next() == ("work", "work")


def test_the_note_and_the_places_are_in_no_answer_until_the_gate_is_open(scene: Scene) -> None:
    def secrets() -> list[str]:
        text = json.dumps(scene.view())
        text += scene.guest.get("/api/state").text
        return [one for one in (NOTE, PLACE) if one in text]

    assert secrets() == []
    assert "Quarry gate" in scene.view()["stops"][0]["sealed"]
    scene.opened()
    scene.hand(("quarry-gate.hasp", False))
    assert secrets() == []
    scene.hand(("quarry-gate.shut", False))
    assert secrets() == [NOTE, PLACE]
    assert scene.view()["stops"][0]["sealed"] == ""
    assert "staithe's end" not in json.dumps(scene.view()), "that stop is still ahead"
    scene.hand(("quarry-gate.shut", None))
    assert secrets() == [], "a gate that nothing is known of is not open"
    scene.hand(("quarry-gate.shut", True))
    assert secrets() == []


def test_where_there_is_no_gate_the_places_open_with_the_spur(scene: Scene) -> None:
    scene.ready()
    scene.tick("left", 0)
    place = "at the staithe's end"
    scene.post("orders", {"command": "ask"})
    scene.hand(("coal-switch.hasp", False), ("coal-switch.normal", False))
    scene.hand(("coal-switch.reverse", True), ("coal-derail.hasp", False))
    assert place not in json.dumps(scene.view())
    scene.hand(("coal-derail.on", False))
    assert scene.view()["stops"][1]["spot"] == [{"car": "two gondolas", "place": place}]


def test_an_opened_gate_tells_another_crew_nothing(scene: Scene) -> None:
    scene.add(Job("Relief", stops=(JobStop("quarry", note="the second crew's own note"),)))
    scene.at_work()
    view = scene.view("Relief")
    assert "own note" not in json.dumps(view)
    assert view["next"]["id"] == "other-crew"
    assert "worked by Ada and Bo" in view["next"]["says"]
    assert all("command" not in action for action in view["actions"])
    assert view["gauges"] == []


def test_no_lamp_no_button_and_no_step_without_an_engine(scene: Scene) -> None:
    scene.opened()
    scene.filler.beat("stopped")
    view = scene.view()
    assert not view["head"]["live"]
    assert view["lamp"]["colour"] == "dark"
    assert view["white"] is None
    assert view["actions"] == []
    assert view["next"]["id"] == "not-live"
    assert all(key["home"] is None for key in view["keys"])


def test_the_lamps_are_the_stands_and_say_what_they_mean(scene: Scene) -> None:
    assert scene.view()["lamp"]["word"] == "Green"
    scene.at_work()
    view = scene.view()
    assert (view["lamp"]["colour"], view["lamp"]["shows"]) == ("red", "steady")
    assert "keeps the others away" in view["lamp"]["means"]
    assert view["white"]["shows"] == "steady"


def test_a_persons_answer_has_no_known_end_and_an_automatic_one_has(scene: Scene) -> None:
    scene.ready()
    scene.post("orders", {"command": "ask"})
    (gauge,) = scene.view()["gauges"]
    assert (gauge["earliest_us"], gauge["latest_us"]) == (None, None)
    scene.add(Job("Tan bark", stops=(JobStop("tannery"),)))
    scene.set(own.SETTING, "[]")
    scene.post("orders", {"command": "ask"}, "Tan bark")
    (gauge,) = scene.view("Tan bark")["gauges"]
    low, high = next(s for s in scene.filler.layout.spurs if s.id == "tannery").foreman_us
    assert gauge["earliest_us"] - gauge["since_us"] == low
    assert gauge["latest_us"] - gauge["since_us"] == high


def test_a_brake_test_is_charging_and_then_a_wait_for_leaks(scene: Scene) -> None:
    scene.at_work()
    scene.order(Command.START_BRAKE_TEST, "quarry", cars=3)
    view = scene.view()
    assert view["next"]["id"] == "brake-test"
    charging, leakage = view["gauges"]
    ratio = scene.filler.layout.clock_ratio
    whole_us = leakage["until_us"] - charging["since_us"]
    assert whole_us == pytest.approx(brake_test_seconds(3, ratio) * 1e6, abs=2)
    assert leakage["until_us"] - leakage["since_us"] == round(50 / ratio * 1e6)
    assert charging["until_us"] == leakage["since_us"]


def test_the_pipe_reaches_60_psi_as_the_charging_ends() -> None:
    """Facts: tau is 0.279 n minutes with a 90 psi source; 60 psi comes after 0.3065 n minutes."""
    psi = SOURCE_PSI * (1 - math.exp(-0.3065 / TAU_MINUTES_FOR_CAR))
    assert psi == pytest.approx(ENOUGH_PSI, abs=0.02)


def test_a_pass_of_the_trap_is_read_against_its_limit_and_told(scene: Scene) -> None:
    scene.at_work()
    scene.hand(("quarry.detector", True))
    (gauge,) = scene.view()["gauges"]
    assert gauge["id"] == "speed"
    assert gauge["limit"] == 10.0
    assert gauge["over"] == (gauge["mph"] > 10.0)
    scene.hand(("quarry-switch.detector", False), ("quarry.detector", False))
    scene.hand(("quarry-switch.detector", True), wait=0.0)
    scene.t -= 0.5
    scene.hand(("quarry.detector", True))
    view = scene.view()
    assert view["gauges"][0]["over"]
    assert [one["rule"] for one in view["violations"]] == ["over-speed"]


def test_only_violations_of_the_jobs_own_spurs_are_told(scene: Scene) -> None:
    scene.hand(("rope-switch.normal", False))
    assert scene.view()["violations"] == []
    scene.hand(("quarry-switch.normal", False))
    (told,) = scene.view()["violations"]
    assert told["rule"] == "moved-while-locked"
    assert "Quarry switch" in told["happened"]
    assert [one["number"] for one in scene.view("Milk run")["violations"]] == [told["number"]]


def test_a_fault_at_the_spur_is_told_as_the_wirings(scene: Scene) -> None:
    scene.hand(("quarry-switch.detector", None))
    assert [fault["title"] for fault in scene.view()["faults"]] == ["Contact lost"]


def test_a_key_that_another_crew_works_with_is_waited_for(scene: Scene) -> None:
    scene.set(own.SETTING, "[]")
    scene.add(Job("Twin", "Di", stops=(JobStop("quarry"),)))
    scene.opened()
    assert scene.view("Twin")["next"]["id"] == "other-crew"
    keys = scene.view("Twin")["keys"]
    assert [(key["name"], key["says"]) for key in keys] == [("Quarry key", "off its hook")]


def test_a_locked_thing_whose_key_hangs_on_its_hook_asks_for_the_key_first(scene: Scene) -> None:
    scene.ready()
    scene.post("orders", {"command": "ask"})
    scene.order(Command.RELEASE, "quarry")
    scene.hand(("quarry-flag.rack", True), ("quarry-key.hook", True))
    assert scene.next() == ("quarry-key", "do")


def test_the_stands_button_alone_makes_the_crew_be_there(scene: Scene) -> None:
    """The demo's creamery has a button; here the host asks for the crew, which is the same."""
    scene.order(Command.ASK, "dairy")
    view = scene.view("Milk run")
    assert view["stops"][0]["here"]
    assert view["next"]["id"] == "foreman"


def test_a_guess_is_kept_once_a_train_was_in(scene: Scene) -> None:
    scene.order(Command.ASK, "dairy")
    scene.order(Command.RELEASE, "dairy")
    scene.hand(("dairy-north-flag.rack", True), ("dairy-south-flag.rack", True))
    scene.hand(("dairy-switch.hasp", False), ("dairy-switch.normal", False))
    scene.hand(("dairy-switch.reverse", True), ("dairy-switch.detector", True))
    scene.hand(("dairy-switch.detector", False))
    scene.order(Command.WORK_DONE, "dairy")
    scene.order(Command.HAND_BACK, "dairy")
    scene.hand(("dairy-north-flag.rack", False), ("dairy-south-flag.rack", False))
    scene.hand(("dairy-switch.reverse", False), ("dairy-switch.normal", True))
    scene.hand(("dairy-switch.hasp", True))
    assert [stop["state"] for stop in scene.view("Milk run")["stops"]] == ["done", "current"]


def test_a_spur_that_the_layout_lost_can_be_left_out(scene: Scene) -> None:
    scene.add(Job("Ghost", stops=(JobStop("old-mine"), JobStop("dairy"))))
    view = scene.view("Ghost")
    assert view["next"]["id"] == "no-spur"
    assert scene.post("orders", {"command": "ask"}, "Ghost").status_code == 409
    assert scene.tick("left", 0, "Ghost") == 200
    assert scene.view("Ghost")["at"]["spur"] == "dairy"


def test_a_job_without_stops_says_what_to_do(scene: Scene) -> None:
    scene.add(Job("Nothing"))
    assert scene.next("Nothing") == ("no-stops", "wait")


def test_every_step_has_its_how_and_its_why() -> None:
    told = [*words.OPENING.values(), *words.CLOSING.values(), *words.OWN.values()]
    assert words.OPENING.keys() == words.CLOSING.keys()
    assert words.OWN.keys() == set(own.ALL)
    for one in told:
        assert one.how.endswith(".")
        assert one.why.endswith(".")
        assert one.source.name


def test_the_work_in_words() -> None:
    assert work_says(MILK.stops[0]) == "Go in and work the spur"
    assert work_says(SLATE.stops[0]) == "Pull the empty hopper. Spot a box car."


def test_a_lamp_that_the_host_works_by_hand_tells_the_crew_nothing(scene: Scene) -> None:
    keeper = scene.filler.keeper
    until = {"since_t_us": 1, "until_t_us": 60_000_001, "until_wall_us": 1_800_000_000_000_000}
    keeper.by_hand("quarry-switch.white", "off", whence="10.0.0.7", **until)
    scene.pass_time(0.1)
    view = scene.view()
    assert (view["lamp"]["colour"], view["lamp"]["word"]) == ("dark", "By hand")
    assert view["lamp"]["means"].startswith("The host works a lamp here by hand.")
    assert view["white"] is None
    assert view["by_hand"]["quarry-switch.white"]["called"] == "White lamp of Quarry switch"
    keeper.hand_off("quarry-switch.white")
    scene.pass_time(0.1)
    assert scene.view()["lamp"]["word"] == "Green"
    assert scene.view()["by_hand"] == {}
