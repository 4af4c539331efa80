"""The engine watching itself: a callback that raises, and what the watchdog is fed on."""

from __future__ import annotations

import threading
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

from pytest_mock import MockerFixture
from trouble_shift import Manager, Shift, until, waiting_for

from firmware_py.core.entries import Entry
from firmware_py.engine.ports import Checked
from firmware_py.engine.troubles import AGAIN_AFTER_US, Reporter
from firmware_py.engine.watching import STUCK_AFTER_US, TOKEN_WITHIN_US, Watchman
from firmware_py.health.record import EngineHealth, path_of, read
from firmware_py.pins.trouble import Trouble

BEGAN_US = 1_000_000


def test_a_listener_that_raises_kills_nothing(begin: Callable[..., Shift], tmp_path: Path) -> None:
    shift = begin(tmp_path)
    heard: list[Entry] = []

    def clumsy(entry: Entry) -> None:
        raise ZeroDivisionError("clumsy")

    shift.plant.listeners[:0] = [clumsy]
    shift.plant.listeners.append(heard.append)
    shift.trespass()
    shift.trespass()
    assert not shift.failed
    assert len(heard) == shift.engine.raised >= 4
    shift.until_said("clumsy", "guarding goes on")
    assert sum("clumsy" in text for text in shift.remarks()) == 1
    shift.nothing_lost()


def test_an_engine_that_hangs_is_not_fed_until_it_moves_again(
    begin: Callable[..., Shift], tmp_path: Path, mocker: MockerFixture
) -> None:
    mocker.patch("firmware_py.engine.watching.TOKEN_WITHIN_US", 2_500_000)
    shift = begin(tmp_path)
    until(lambda: shift.manager.fed > 2)
    assert any(word == "READY=1" for word in shift.manager.told)
    go_on = threading.Event()
    shift.plant.listeners.append(waiting_for(go_on))
    shift.plant.hand("pit-switch.hasp", False)
    record = path_of(str(shift.logbook), EngineHealth)

    def halted() -> set[str]:
        health = read(record, EngineHealth)
        return {part.name for part in health.parts if not part.moves} if health else set()

    until(lambda: halted() == {"queue", "core"})
    fed = shift.manager.fed
    looks = len(shift.manager.told)
    until(lambda: len(shift.manager.told) > looks + 3)
    assert shift.manager.fed == fed
    go_on.set()
    until(lambda: shift.manager.fed > fed)
    shift.until_said("queue moves again")
    shift.nothing_lost()


@dataclass
class Body:
    """Everything that is watched, as a test wants it."""

    now_us: int = BEGAN_US
    checked: Checked | None = None
    drops: int = 0
    raised: int = 0
    alive: bool = True
    writes: bool = True
    last_error: str | None = None
    queued: int = 0

    def __post_init__(self) -> None:
        self.said: list[str] = []
        self.wrong: list[Trouble] = []

    def troubles(self) -> list[Trouble]:
        return self.wrong

    def flush(self, timeout: float) -> bool:
        return self.writes

    def health(self) -> Body:
        return self

    def remark(self, text: str) -> None:
        self.said.append(text)

    def move(self, us: int) -> None:
        """Let time pass, in which the queue and the core move."""
        self.now_us += us
        self.checked = Checked(self.now_us, self.now_us)


def watchman(body: Body, tmp_path: Path, pins: Body | None = None) -> Watchman:
    made = Watchman(
        body,
        pins or body,
        body,
        record=tmp_path / "health.json",
        layout="Gravel Siding",
        simulated=True,
        manager=Manager(),
        clock_us=lambda: body.now_us,
    )
    made.guarding()
    return made


def test_it_is_fed_while_all_move(tmp_path: Path) -> None:
    body = Body()
    man = watchman(body, tmp_path)
    for _ in range(30):
        body.move(TOKEN_WITHIN_US)
        assert man.look()
    assert body.said == []


def test_pins_that_notice_nothing_starve_it(tmp_path: Path) -> None:
    body, pins = Body(), Body(alive=False)
    man = watchman(body, tmp_path, pins)
    assert not man.look()
    assert not man.look()
    assert len(body.said) == 1
    assert "pins" in body.said[0]
    pins.alive = True
    assert man.look()
    assert len(body.said) == 2


def test_a_check_that_does_not_come_back_starves_it(tmp_path: Path) -> None:
    body = Body()
    man = watchman(body, tmp_path)
    body.now_us += TOKEN_WITHIN_US
    assert man.look(), "it has only just begun"
    body.now_us += 1
    assert not man.look()


def test_a_core_with_deadlines_left_undone_starves_it(tmp_path: Path) -> None:
    body = Body()
    man = watchman(body, tmp_path)
    body.now_us += TOKEN_WITHIN_US + 1
    body.checked = Checked(body.now_us, BEGAN_US)
    assert not man.look()
    assert ["core" in text for text in body.said] == [True]


def test_a_logbook_in_trouble_is_no_reason_to_starve(tmp_path: Path) -> None:
    body = Body(writes=False, last_error="its disk is full")
    man = watchman(body, tmp_path)
    for _ in range(30):
        body.move(TOKEN_WITHIN_US)
        assert man.look()
    health = read(tmp_path / "health.json", EngineHealth)
    assert health is not None
    assert health.parts[-1].trouble == "its disk is full"


def test_a_writer_that_neither_writes_nor_says_why_starves_it(tmp_path: Path) -> None:
    body = Body(writes=False)
    man = watchman(body, tmp_path)
    body.move(STUCK_AFTER_US)
    assert man.look()
    body.move(1)
    assert not man.look()
    body.writes = True
    assert man.look()


def test_a_writer_whose_thread_is_gone_starves_it(tmp_path: Path) -> None:
    keeper = Body(alive=False, last_error="something old")
    man = watchman(keeper, tmp_path, Body())
    assert not man.look()


def test_troubles_of_pins_are_told_as_they_begin_and_end() -> None:
    said: list[str] = []
    reporter = Reporter(said.append)
    for times, standing in [(1, True), (5, True), (9, True), (9, False), (9, False)]:
        reporter.look([Trouble("box", "No such device", times, standing)], BEGAN_US)
        assert reporter.standing == (("box: No such device",) if standing else ())
    assert said == [
        "box: No such device.",
        "box works again; it failed 9 times since the start.",
    ]


def test_a_place_that_fails_again_and_again_does_not_fill_the_log() -> None:
    said: list[str] = []
    reporter = Reporter(said.append)
    for minute in range(3):
        for look in range(30):
            trouble = Trouble("box", "edges were lost", 30 * minute + look + 1, False)
            reporter.look([trouble], BEGAN_US + minute * AGAIN_AFTER_US + look)
    assert len(said) == 3
    assert said[-1] == "box: edges were lost (61 times since the start)."


def test_two_troubles_of_one_place_are_told_as_one() -> None:
    said: list[str] = []
    reporter = Reporter(said.append)
    lost, gaps = Trouble("box", "gone", 1, True), Trouble("box", "edges were lost", 2, False)
    reporter.look([lost, gaps], BEGAN_US)
    assert said == ["box: gone (3 times since the start)."]
