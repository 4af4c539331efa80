"""The whole engine, put together as ``spurlock`` does: real threads, SQLite, simulated pins.

Nothing here asserts how long anything takes; waiting ends when what is waited for is there, or
after a minute in which it never came.
"""

from __future__ import annotations

import json
import threading
import time
from io import BytesIO
from pathlib import Path
from random import Random

import pytest
from engine_plant import GENEROUS_S, all_entries, plant_of, running, until
from pytest_mock import MockerFixture
from sqlalchemy import Engine as Database

from firmware_py.core.core import Core
from firmware_py.core.names import Command
from firmware_py.core.orders import Order
from firmware_py.demo.crew import Crews
from firmware_py.engine.assembly import Plant
from firmware_py.engine.ports import Given
from firmware_py.layout.reading import parse_layout
from firmware_py.logbook.reading import Reader
from firmware_py.logbook.requests import leave_hand, leave_order
from firmware_py.logbook.tapes import tape_lines
from firmware_py.tape.lines import line_of
from firmware_py.tape.reading import TapeReader
from firmware_py.tape.replay import replay

pytestmark = pytest.mark.filterwarnings("error::pytest.PytestUnhandledThreadExceptionWarning")

PACE = 200.0
LASTS_S = 6.0


def trouble_makers(plant: Plant, random: Random, end_s: float) -> None:
    """Contacts that no crew touches: a loose wire, and one that is cut and mended."""
    while time.monotonic() < end_s:
        for place in range(random.choice([3, 60])):
            plant.hand("foundry-switch.normal", place % 2 == 0)
        plant.hand("brickyard-switch.hasp", random.choice([None, True, False]))
        plant.hand("creamery-switch.button", random.random() < 0.5)
        time.sleep(random.uniform(0.0, 0.1))


def test_a_live_session_saved_as_a_tape_replays_to_exactly_what_was_logged(
    layout_file: Path, database: Database, reader: Reader, mocker: MockerFixture
) -> None:
    """Rulebook section 10, with nothing put in the place of anything real but the pins."""
    mocker.patch("firmware_py.demo.job.LOOK_S", 0.02)
    plant = plant_of(layout_file)
    crews = Crews(plant, seed=5, pace=PACE)
    crews.start()
    random = Random(9)
    with running(plant):
        end_s = time.monotonic() + LASTS_S
        number = 0
        hands = threading.Thread(target=trouble_makers, args=(plant, Random(3), end_s))
        hands.start()
        while time.monotonic() < end_s:
            number += 1
            leave_order(database, "acknowledge", violation=number, wall_us=time.time_ns() // 1_000)
            leave_order(
                database,
                random.choice(["ask", "hold", "release", "hand-back", "work-done"]),
                spur="brickyard",
                wall_us=time.time_ns() // 1_000,
            )
            time.sleep(0.1)
        hands.join()
    crews.stop()

    session = reader.session()
    assert session is not None
    assert session.ended_t_us is not None
    tape = [json.dumps(line) for line in tape_lines(database, session.id)]
    layout = parse_layout(session.layout_toml, "the session's layout")
    lines = TapeReader(layout, BytesIO("\n".join(tape).encode()), "the session's tape")
    replayed = [list(line_of(entry).items()) for entry in replay(layout, lines)]
    logged = [list(entry.line.items()) for entry in all_entries(reader, session.id)]
    assert json.dumps(replayed) == json.dumps(logged)
    kinds = {dict(line)["what"] for line in logged}
    assert kinds >= {"stage", "phase", "violation", "output", "foreman", "fault", "refused"}
    used = [dict(line) for line in logged if ("stage", "in-use") in line]
    assert len(used) >= 8, "it was a busy session"
    assert len({stage["switch"] for stage in used}) >= 3


def test_a_request_is_answered_and_what_it_did_is_in_the_log(
    layout_file: Path, database: Database, reader: Reader
) -> None:
    with running(plant_of(layout_file)):
        left = [
            leave_order(database, "ask", spur="sawmill", wall_us=time.time_ns() // 1_000),
            leave_order(database, "release", spur="creamery", wall_us=time.time_ns() // 1_000),
            leave_hand(database, "foundry-switch.hasp", False, time.time_ns() // 1_000),
        ]
        until(lambda: all(reader.request(one).answered_wall_us for one in left))
        until(lambda: reader.standing()["foundry-switch.hasp"].settled is False)
        until(lambda: _foreman(reader, "sawmill") == ["asked", "released"])
    assert [reader.request(one).accepted for one in left] == [True, False, True]
    assert reader.request(left[1]).why
    remarks = [remark.text for remark in reader.remarks()]
    assert any("the foreman will answer in" in text for text in remarks)


def _foreman(reader: Reader, spur: str) -> list[str]:
    session = reader.session()
    assert session is not None
    entries = reader.entries(session.id, kinds=["foreman"])
    return [entry.line["is"] for entry in entries if entry.spur == spur]


def test_the_outset_is_how_things_stand_as_the_session_begins(
    layout_file: Path, reader: Reader
) -> None:
    plant = plant_of(layout_file)
    plant.hand("foundry-switch.hasp", False)
    plant.hand("brickyard-switch.hasp", None)
    with running(plant):
        session = reader.session()
    assert session is not None
    assert session.simulated
    assert session.layout_toml == layout_file.read_text("utf-8")
    assert session.outset["stages"]["foundry-switch"] == "unlocked"
    assert session.outset["stages"]["creamery-switch"] == "secured"
    assert session.outset["faults"] == [["lost", "brickyard-switch.hasp"]]
    assert session.outset["outputs"]["brickyard-switch"]["green"] == "off"
    assert session.outset["outputs"]["creamery-switch"]["green"] == "steady"
    assert session.outset["phases"]["creamery"] == ["idle", None]
    assert session.outset["foremen"]["creamery"] == "not-asked"


def test_the_engine_beats_while_it_guards_and_says_that_it_stopped(
    layout_file: Path, reader: Reader
) -> None:
    with running(plant_of(layout_file)):
        until(lambda: (pulse := reader.pulse()) and pulse.state == "guarding")
        first = reader.pulse()
        assert first is not None
        until(lambda: (pulse := reader.pulse()) and pulse.beat > first.beat)
    last = reader.pulse()
    assert last is not None
    assert last.state == "stopped"
    session = reader.session()
    assert session is not None
    assert session.ended_t_us is not None


def test_a_session_ends_by_itself_after_its_minutes(layout_file: Path, reader: Reader) -> None:
    plant_of(layout_file, minutes=0.02).run()
    session = reader.session()
    assert session is not None
    assert session.ended_t_us is not None
    assert reader.remarks(session.id)[0].text == "The session ended."


def test_an_engine_that_fails_says_so_and_leaves_no_session_that_seems_to_have_ended(
    layout_file: Path, reader: Reader, mocker: MockerFixture
) -> None:
    plant = plant_of(layout_file)
    outputs = plant.board.outputs
    safe = mocker.spy(plant.board, "safe")
    mocker.patch.object(Core, "reading", side_effect=RuntimeError("a defect"))
    failed: list[BaseException] = []

    def run() -> None:
        try:
            plant.run()
        except RuntimeError as error:
            failed.append(error)

    thread = threading.Thread(target=run, daemon=True)
    thread.start()
    assert plant.began.wait(GENEROUS_S)
    plant.hand("creamery-switch.hasp", False)
    thread.join(GENEROUS_S)
    assert [str(error) for error in failed] == ["a defect"]
    assert safe.call_count >= 2
    assert all(device.closed for device in outputs.values())
    session = reader.session()
    assert session is not None
    assert session.ended_t_us is None
    assert any("a defect" in remark.text for remark in reader.remarks())
    pulse = reader.pulse()
    assert pulse is not None
    assert pulse.state == "stopped"


def test_a_stopped_session_goes_on_without_blame_for_what_moved_meanwhile(
    layout_file: Path, database: Database, reader: Reader
) -> None:
    """A cut-off session is rebuilt from its tape; what moved unseen settles anew, unblamed."""
    first = plant_of(layout_file)
    thread = threading.Thread(target=first.run)
    thread.start()
    assert first.began.wait(GENEROUS_S)
    first.give(Given(Order(Command.ASK, "creamery")))
    first.give(Given(Order(Command.RELEASE, "creamery")))
    first.hand("brickyard-switch.hasp", False)
    until(lambda: _rules(reader) == BLAMED)
    first.stop()
    thread.join(GENEROUS_S)

    second = plant_of(layout_file)
    second.hand("oil-dock-derail.on", False)
    with running(second):
        session = reader.session()
        assert session is not None
        assert session.id == 1
        core = second.engine.core
        assert core is not None
        assert core.phases()["creamery"] == ("opening", "creamery-flag")
        until(lambda: core.settled()["oil-dock-derail.on"] is False)
        until(lambda: core.stages()["brickyard-switch"] == "secured")
    assert _rules(reader) == BLAMED
    remarks = [remark.text for remark in reader.remarks()]
    assert "Lamp-oil dock derail found off the rail; on the rail when the engine last saw it." in (
        remarks
    )
    tape = [json.dumps(line) for line in tape_lines(database, 1)]
    layout = parse_layout(session.layout_toml, "the session's layout")
    lines = TapeReader(layout, BytesIO("\n".join(tape).encode()), "the session's tape")
    logged = [entry.line for entry in all_entries(reader, 1)]
    assert [line_of(entry) for entry in replay(layout, lines)] == logged


BLAMED = ["out-of-order", "key-on-hook"]
"""What the first crew did wrong, newest first, and all that anybody is blamed for."""


def _rules(reader: Reader) -> list[str]:
    return [violation.rule for violation in reader.violations(1)]
