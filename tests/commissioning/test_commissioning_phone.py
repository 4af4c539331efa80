"""A phone at a sitting: both may answer, the first counts, and the page never shows what is not."""

from __future__ import annotations

import signal
import subprocess
import sys
from pathlib import Path

from service.processes import Running, free_port, until

from firmware_py.logbook.commissioning import records, unfinished
from firmware_py.logbook.opening import open_engine

from .phones import HASP, Sat, sitting

LATE = "too late: that step is over; look what is asked now"
LAMPS = ("green of kiln-switch", "red of kiln-switch")


def through(sat: Sat) -> None:
    """Do with simulated hands, and with eyes that see what is driven, all that is asked."""
    while (step := sat.shown()["asked"]["step"]) not in {"dark", "finished"}:
        if step != "listen" and sat.shown()["waits"]:
            sat.do()
    sat.at("dark")
    assert sat.ask("seen", seen=[]) == (True, None)
    for lamp in LAMPS:
        sat.at("look", lamp)
        assert sat.ask("seen", seen=[lamp]) == (True, None)
    sat.at("finished")


def test_the_phone_alone_from_the_first_step_to_the_record(tmp_path: Path) -> None:
    """With nobody at the terminal: its end ends nothing."""
    with sitting(tmp_path, stdin=subprocess.DEVNULL) as sat:
        through(sat)
        shown = sat.shown()
        assert shown["asked"]["done"] == shown["asked"]["of"] == 5
        assert shown["findings"] == []
        assert shown["usual"]["condition_left"] == "in order"
        signing = {"by_whom": "N. Tallow", "equipment": "a torch"}
        assert sat.ask("sign", signing=signing) == (True, None)
        shown = until(lambda: (now := sat.shown())["record"] and now)
        assert sat.ask("repeat", stand="kiln-switch") == (False, "the record is signed already")
        assert [one["id"] for one in until(lambda: sat.view()["records"])] == [shown["record"]]
    engine = open_engine(str(tmp_path / "kiln.sqlite"))
    [record] = records(engine)
    engine.dispose()
    assert record.signed is not None
    assert (record.signed.by_whom, record.signed.equipment) == ("N. Tallow", "a torch")
    assert (record.signed.place, record.signed.condition_left) == ("Kiln lane", "in order")
    assert "Signed" not in sat.said
    assert "By whom:         N. Tallow" in sat.said


def test_the_first_answer_to_a_step_counts_and_the_late_one_is_told_so(tmp_path: Path) -> None:
    with sitting(tmp_path) as sat:
        sat.do()
        sat.at("make", HASP)
        number = sat.shown()["asked"]["number"]
        sat.type("do")
        sat.at("break", HASP)
        assert sat.ask("done", number) == (False, LATE)
        number = sat.shown()["asked"]["number"]
        assert sat.ask("skip", number) == (True, None)
        sat.type("skip")  # Meant for the step that the phone was first with.
        until(lambda: "too late: the phone was first" in sat.said)
        assert sat.at("make")["asked"]["about"] == "kiln-switch.normal"
        assert sat.shown()["over"] == {"kiln-switch": 1}
        accepted, why = sat.ask("seen", seen=[])
        assert (accepted, why) == (False, "seen is no answer to this step")


def test_what_moves_is_shown_live_whoever_is_asked(tmp_path: Path) -> None:
    with sitting(tmp_path) as sat:
        sat.do()
        sat.at("make", HASP)
        assert sat.shown()["levels"] == {HASP: False}
        sat.type("make kiln-switch.normal")
        until(lambda: sat.shown()["levels"] == {HASP: False, "kiln-switch.normal": True})
        sat.type("make kiln-switch.hasp")
        until(lambda: sat.shown()["levels"] == {HASP: True, "kiln-switch.normal": True})
        until(lambda: sat.shown()["waits"])
        assert sat.ask("done") == (True, None)
        seen = sat.at("break", HASP)["asked"]["remark"]
        assert seen == "kiln-switch.normal moved as well"


def test_it_stops_for_now_and_goes_on_from_either_end(tmp_path: Path) -> None:
    with sitting(tmp_path) as sat:
        sat.do()
        sat.at("make", HASP)
        assert sat.ask("rest") == (True, None)
        assert until(lambda: sat.shown()["state"] == "resting")
        number = sat.shown()["asked"]["number"]
        rests = 'it is stopped for now: "go on"'  # Typed too soon after the phone it is too late.
        until(lambda: (sat.type("make kiln-switch.hasp"), rests in sat.said)[1])
        assert sat.ask("done") == (False, "the test is stopped for now; go on first")
        assert sat.ask("go-on") == (True, None)
        assert sat.at("prepare")["asked"]["number"] > number
        assert sat.ask("go-on") == (False, "the test goes on already")
        assert sat.ask("rest") == (True, None)
        until(lambda: sat.shown()["state"] == "resting")
        until(lambda: (sat.type("go on"), sat.shown()["state"] == "asking")[1])


def test_one_stand_is_repeated_and_all_that_is_left_is_skipped(tmp_path: Path) -> None:
    with sitting(tmp_path) as sat:
        through(sat)
        assert sat.ask("repeat", stand="mill") == (False, "there is no stand or thing 'mill'")
        assert sat.ask("repeat", stand="kiln-switch") == (True, None)
        assert sat.at("prepare")["over"] == {"kiln-switch": 0}
        sign = sat.ask("sign", signing={"by_whom": "N. Tallow"})
        assert sign == (False, "a record is signed once every wire is through, or skipped")
        assert sat.ask("end") == (True, None)
        sat.at("finished")
        # What answers a step is too late just after the phone has answered.
        until(lambda: (sat.type("y"), "'y' is no answer to this" in sat.said)[1])
        sat.type("")
        until(lambda: "By whom:" in sat.said)
        why = "the record is just being written at the terminal"
        assert sat.ask("repeat", stand="kiln-switch") == (False, why)
        assert sat.ask("sign", signing={"by_whom": "P. Wicket"}) == (True, None)
        until(lambda: "the phone was first: it has signed the record" in sat.said)
        until(lambda: "By whom:         P. Wicket" in sat.said)
        sat.type("")
        assert sat.process.wait(60) == 1  # Wires are untested.


def test_what_makes_no_sense_is_not_even_left(tmp_path: Path) -> None:
    with sitting(tmp_path) as sat:
        sound = {"sitting": 1, "number": 1, "say": "done"}
        assert sat.refused(sound | {"say": "please"})[0] == 400
        assert sat.refused(sound | {"sitting": 0})[0] == 400
        assert sat.refused(sound | {"sitting": 7}) == (
            409,
            "another test has begun since; look what is asked now",
        )
        assert sat.refused(sound | {"say": "repeat"})[1] == "repeat needs the name of a stand"
        blank = {"by_whom": " "}
        assert "signed by somebody" in sat.refused(sound | {"say": "sign", "signing": blank})[1]
        hidden = {"by_whom": "N. Tallow", "place": "a\u202eb"}
        assert sat.refused(sound | {"say": "sign", "signing": hidden})[0] == 409
        engine = open_engine(str(tmp_path / "kiln.sqlite"))
        with engine.begin() as connection:
            for note in ("{", '{"sitting": 99, "number": 1, "say": "done"}', None):
                connection.exec_driver_sql(
                    "INSERT INTO request (wall_us, kind, note) VALUES (1, 'commission', ?)",
                    (note,),
                )
        engine.dispose()
        for number in (1, 2, 3):
            said = until(lambda n=number: (got := sat.get(f"/api/requests/{n}"))["why"] and got)
            assert said["accepted"] is False
            wanted = "an earlier sitting" if number == 2 else "it could not be understood"
            assert wanted in said["why"]


def test_a_screen_that_fell_comes_back_and_the_test_goes_on(tmp_path: Path) -> None:
    with sitting(tmp_path) as sat:
        sat.do()
        sat.kill(sat.screen())
        until(lambda: "The screen stopped" in sat.said)
        sat.do() if sat.at("make", HASP) else None
        assert sat.at("break", HASP)["asked"]["remark"] == "as it should"


def test_it_ends_well_when_it_is_told_to(tmp_path: Path) -> None:
    with sitting(tmp_path) as sat:
        sat.do()
        screen = sat.screen()
        assert sat.stop(signal.SIGTERM) == 130
        engine = open_engine(str(tmp_path / "kiln.sqlite"))
        assert unfinished(engine, "Kiln lane", simulated=True) is not None
        engine.dispose()
        assert screen not in {pid for pid in (sat.child("web"),) if pid}
    with alone(tmp_path) as screen_alone:
        view = until(lambda: screen_alone.get("/api/commission"))
        assert (view["word"], view["sitting"]["shown"]["state"]) == ("ended", "stopped")


def test_of_a_sitting_that_died_no_page_pretends_anything(tmp_path: Path) -> None:
    with sitting(tmp_path) as sat:
        sat.do()
        sat.process.send_signal(signal.SIGKILL)
        sat.process.wait(60)
        until(lambda: sat.view() is None)  # Its own screen goes with it.
    with alone(tmp_path) as screen:
        first = until(lambda: screen.get("/api/commission"))
        assert first["word"] in {"listening", "silent"}
        view = until(lambda: (got := screen.get("/api/commission"))["word"] == "silent" and got)
        assert "its program has stopped" in view["says"]
        body = {"sitting": view["sitting"]["id"], "number": 1, "say": "done"}
        status, why = Sat.refused(screen, body)
        assert status == 409
        assert why.endswith("nothing was asked")


class alone:  # noqa: N801 - it reads as what it gives
    """A screen by itself, on the logbook of a sitting that is over."""

    def __init__(self, folder: Path) -> None:
        self._arguments = ["--logbook", str(folder / "kiln.sqlite")]
        self._folder = folder

    def __enter__(self) -> Sat:
        pin = next(self._folder.glob("spurlock-*.log")).read_text()
        self._sat = Sat(self._arguments, self._folder, free_port(), (sys.executable, "-m", "web"))
        with self._sat._log.open("a") as log:
            log.write(pin)  # So that its PIN is known here too.
        return self._sat

    def __exit__(self, *_: object) -> None:
        Running.stop(self._sat)
