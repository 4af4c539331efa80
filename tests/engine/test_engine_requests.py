"""The clerk: what is sound among the screen's requests goes on, the rest is answered at once."""

from __future__ import annotations

import threading
from itertools import count
from typing import Any

import pytest
from engine_stage import LAYOUT
from pytest_mock import MockerFixture

from firmware_py.core.names import Command, Shows
from firmware_py.core.orders import Order
from firmware_py.engine.ports import Given, Turn, Work
from firmware_py.engine.requests import STALE_US, Clerk
from firmware_py.logbook.errors import LogbookError
from firmware_py.logbook.records import RequestRecord

NOW_US = 1_700_000_000_000_000
GENEROUS_S = 60.0


def request(kind: str = "order", **given: object) -> RequestRecord:
    blank: dict[str, Any] = dict.fromkeys(RequestRecord.__struct_fields__)
    return RequestRecord(**(blank | {"id": 3, "wall_us": NOW_US, "kind": kind} | given))


class Desk:
    """A clerk with a tray of requests, and what comes of them."""

    def __init__(self, mocker: MockerFixture, *, simulated: bool = True) -> None:
        self.tray: list[RequestRecord] = []
        self.given: list[Given | Work | Turn] = []
        self.answer = mocker.Mock()
        self.hand = mocker.Mock()
        self.clerk = Clerk(
            LAYOUT,
            self,
            self.given.append,
            self.answer,
            hand=self.hand if simulated else None,
            wall_us=lambda: NOW_US,
        )

    def new(self) -> list[RequestRecord]:
        tray, self.tray = self.tray, []
        return tray

    def take(self, *requests: RequestRecord) -> None:
        self.tray += requests
        self.clerk.look()

    def refused(self) -> str:
        self.answer.assert_called_once()
        number, accepted, why = self.answer.call_args.args
        assert (number, accepted) == (3, False)
        assert self.given == []
        self.hand.assert_not_called()
        return str(why)


@pytest.fixture
def desk(mocker: MockerFixture) -> Desk:
    return Desk(mocker)


@pytest.mark.parametrize("command", [c for c in Command if c is not Command.ACKNOWLEDGE])
def test_an_order_for_a_spur_goes_on_to_the_engine(desk: Desk, command: Command) -> None:
    cars = 4 if command is Command.START_BRAKE_TEST else None
    desk.take(request(command=command.value, spur="mill", cars=cars))
    assert desk.given == [Given(Order(command, "mill", None, cars), 3, None)]
    desk.answer.assert_not_called()


def test_an_acknowledgement_goes_on_with_its_note(desk: Desk) -> None:
    desk.take(request(command="acknowledge", violation=12, note="spoke to them", spur="mill"))
    assert desk.given == [Given(Order(Command.ACKNOWLEDGE, None, 12, None), 3, "spoke to them")]


@pytest.mark.parametrize("age_us", [STALE_US + 1, -STALE_US - 1, 10**15])
def test_what_was_meant_for_another_moment_is_not_obeyed(desk: Desk, age_us: int) -> None:
    """Nor what seems to come from the future: the clock was set back since it was left."""
    desk.take(request(command="release", spur="mill", wall_us=NOW_US - age_us))
    assert "ask again" in desk.refused()


def test_a_hand_of_another_moment_moves_nothing(desk: Desk) -> None:
    desk.take(request("hand", contact="mill-switch.hasp", made=False, wall_us=0))
    assert "ask again" in desk.refused()


@pytest.mark.parametrize("age_us", [0, STALE_US, -STALE_US])
def test_what_is_young_enough_is_obeyed(desk: Desk, age_us: int) -> None:
    desk.take(request(command="ask", spur="mill", wall_us=NOW_US - age_us))
    assert len(desk.given) == 1


@pytest.mark.parametrize(
    ("given", "said"),
    [
        ({"command": "dance", "spur": "mill"}, "no command 'dance'"),
        ({"command": None, "spur": "mill"}, "no command None"),
        ({"command": "ask", "spur": "kiln"}, "no spur 'kiln'"),
        ({"command": "ask"}, "no spur None"),
        ({"command": "ask", "violation": 1}, "no spur None"),
        ({"command": "acknowledge", "spur": "mill"}, "number of a violation"),
        ({"command": "start-brake-test", "spur": "mill"}, "1 to 1000 cars"),
        ({"command": "start-brake-test", "spur": "mill", "cars": 0}, "1 to 1000 cars"),
        ({"command": "start-brake-test", "spur": "mill", "cars": 1001}, "1 to 1000 cars"),
    ],
)
def test_what_makes_no_sense_is_answered_with_what_is_wrong(
    desk: Desk, given: dict[str, Any], said: str
) -> None:
    desk.take(request(**given))
    assert said in desk.refused()


@pytest.mark.parametrize("made", [True, False, None])
def test_a_hand_moves_a_simulated_contact_and_is_answered(desk: Desk, made: bool | None) -> None:
    desk.take(request("hand", contact="mill-switch.hasp", made=made))
    desk.hand.assert_called_once_with("mill-switch.hasp", made)
    desk.answer.assert_called_once_with(3, True)
    assert desk.given == []


def test_no_hand_of_ours_moves_a_real_contact(mocker: MockerFixture) -> None:
    desk = Desk(mocker, simulated=False)
    desk.take(request("hand", contact="mill-switch.hasp", made=False))
    assert "real pins" in desk.refused()


def test_a_hand_at_a_contact_that_is_not_there_is_refused(desk: Desk) -> None:
    desk.take(request("hand", contact="mill-switch.rack", made=False))
    assert "no contact 'mill-switch.rack'" in desk.refused()


def test_requests_are_taken_in_their_order(desk: Desk) -> None:
    desk.take(
        request(command="ask", spur="mill", id=1),
        request(command="dance", id=2),
        request(command="release", spur="mill", id=4),
    )
    assert [given.request for given in desk.given] == [1, 4]
    assert desk.answer.call_args.args[0] == 2


def test_a_logbook_that_cannot_be_read_does_not_stop_the_clerk(mocker: MockerFixture) -> None:
    desk = Desk(mocker)
    reached = threading.Event()
    trays = iter([[request(command="ask", spur="mill")]])
    looks = count()

    def new() -> list[RequestRecord]:
        if next(looks) == 0:
            raise LogbookError("the disk is away")
        tray = next(trays, None)
        if tray is None:
            reached.set()
        return tray or []

    mocker.patch.object(desk, "new", side_effect=new)
    desk.clerk.start()
    assert reached.wait(GENEROUS_S)
    desk.clerk.stop()
    assert [given.request for given in desk.given] == [3]
    assert desk.clerk.trouble is None


def test_a_clerk_that_was_never_started_can_be_stopped(desk: Desk) -> None:
    desk.clerk.stop()


@pytest.mark.parametrize("command", [*Shows, "back"])
def test_a_hand_at_an_output_goes_on_to_the_engine_which_judges_it(
    desk: Desk, command: str
) -> None:
    desk.take(request("by-hand", output="mill-switch.red", command=command, note="10.0.0.7"))
    shows = None if command == "back" else Shows(command)
    assert desk.given == [Work("mill-switch", "red", shows, "10.0.0.7", 3, NOW_US)]
    desk.answer.assert_not_called()


@pytest.mark.parametrize(
    ("given", "said"),
    [
        ({"output": "mill-switch.buzzer", "command": "on"}, "no output 'mill-switch.buzzer'"),
        ({"output": "mill-switch", "command": "on"}, "no output 'mill-switch'"),
        ({"output": "kiln-switch.red", "command": "off"}, "no output 'kiln-switch.red'"),
        ({"output": "x" * 10_000, "command": "off"}, "no output"),
        ({"output": None, "command": "off"}, "no output None"),
        ({"output": "mill-switch.red", "command": None}, "can't show ''"),
        ({"output": "mill-switch.red", "command": "blue"}, "can't show 'blue'"),
        ({"output": b"mill-switch.red", "command": "off"}, "no output"),
        ({"output": 7, "command": "off"}, "not of the right shape"),
    ],
    ids=str,
)
def test_a_hand_at_no_output_is_answered_with_what_is_wrong(
    desk: Desk, given: dict[str, Any], said: str
) -> None:
    desk.take(request("by-hand", **given))
    assert said in desk.refused()


def test_a_hand_at_an_output_of_another_moment_is_not_obeyed(desk: Desk) -> None:
    desk.take(request("by-hand", output="mill-switch.red", command="off", wall_us=0))
    assert "ask again" in desk.refused()
