"""Two crews in threads of their own, at a place of work that only listens."""

from __future__ import annotations

import threading
import time
from collections.abc import Callable, Iterator
from importlib.resources import files

import pytest
from pytest_mock import MockerFixture

from firmware_py.core.entries import Entry, ForemanEntry
from firmware_py.core.names import Command, Foreman
from firmware_py.demo.crew import CREWS, Crews
from firmware_py.engine.ports import Given
from firmware_py.layout.model import ForemanKind, Layout
from firmware_py.layout.reading import parse_layout

FILE = files("firmware_py.demo") / "layouts" / "wendlebeck.toml"
TOML = (
    FILE.read_text("utf-8").replace("420.0", "1.0").replace("[times]", "[times]\nclear_after=0.01")
)
LAYOUT = parse_layout(TOML, "wendlebeck.toml")
"""The demo's layout, with trains that come clear and run in at once."""
HOSTS = {spur.id for spur in LAYOUT.spurs if spur.foreman is ForemanKind.HOST}
GENEROUS_S = 60.0

pytestmark = pytest.mark.filterwarnings("error::pytest.PytestUnhandledThreadExceptionWarning")


class Place:
    """A place of work. Automatic foremen answer at once there, and the host does if ``kind``."""

    def __init__(self, *, kind: bool = True) -> None:
        self.layout: Layout = LAYOUT
        self.listeners: list[Callable[[Entry], None]] = []
        self.began = threading.Event()
        self.hands: list[tuple[int, str, bool | None]] = []
        self.orders: list[Given] = []
        self._kind = kind

    def hand(self, contact: str, made: bool | None) -> None:
        self.hands.append((threading.get_ident(), contact, made))

    def give(self, given: Given) -> None:
        self.orders.append(given)
        at_once = self._kind or given.order.spur not in HOSTS
        says = {
            Command.ASK: Foreman.RELEASED if at_once else Foreman.ASKED,
            Command.RELEASE: Foreman.RELEASED,
            Command.HAND_BACK: Foreman.NOT_ASKED,
        }.get(given.order.command)
        if says is not None and given.order.spur is not None:
            for listener in self.listeners:
                listener(ForemanEntry(1, given.order.spur, says))

    def gave(self, command: Command) -> list[str | None]:
        return [given.order.spur for given in self.orders if given.order.command is command]


@pytest.fixture(autouse=True)
def _brisk(mocker: MockerFixture) -> None:
    mocker.patch("firmware_py.demo.job.LOOK_S", 0.001)
    mocker.patch("firmware_py.demo.crew.TEST_BEGINS_S", 0.001)


@pytest.fixture
def place() -> Place:
    return Place()


@pytest.fixture
def crews(place: Place) -> Iterator[Crews]:
    crews = Crews(place, seed=4, pace=1_000.0)
    yield crews
    crews.stop()


def until(what: Callable[[], object]) -> None:
    end_s = time.monotonic() + GENEROUS_S
    while not what():
        assert time.monotonic() < end_s, "it never came to pass"
        time.sleep(0.01)


def test_nobody_works_before_the_session_has_begun(place: Place, crews: Crews) -> None:
    crews.start()
    assert place.hands == []
    assert place.orders == []
    place.began.set()
    until(lambda: place.hands)


def test_both_crews_do_one_job_after_another(place: Place, crews: Crews) -> None:
    place.began.set()
    crews.start()
    until(lambda: len(place.gave(Command.WORK_DONE)) >= 12)
    crews.stop()
    assert len({thread for thread, _, _ in place.hands}) == CREWS
    assert len(set(place.gave(Command.WORK_DONE))) > 2


def test_no_two_crews_are_at_one_spur_or_hold_one_key(place: Place, crews: Crews) -> None:
    """A hasp that is opened is closed again by the same hands; so is a key hung up."""
    place.began.set()
    crews.start()
    until(lambda: len(place.gave(Command.WORK_DONE)) >= 20)
    crews.stop()
    holds: dict[str, int] = {}
    for thread, contact, made in place.hands:
        if contact.endswith((".hasp", ".hook")):
            assert holds.get(contact, thread) == thread, contact
            if made:
                holds.pop(contact, None)
            else:
                holds[contact] = thread


def test_somebody_answers_for_the_host_who_does_not() -> None:
    unkind = Place(kind=False)
    crews = Crews(unkind, seed=4, pace=1_000.0)
    unkind.began.set()
    crews.start()
    until(lambda: unkind.gave(Command.RELEASE))
    crews.stop()
    assert set(unkind.gave(Command.RELEASE)) <= HOSTS


def test_crews_leave_when_told_wherever_they_stand(place: Place) -> None:
    crews = Crews(place, seed=4, pace=0.01)
    place.began.set()
    before = threading.active_count()
    crews.start()
    crews.stop()
    assert threading.active_count() == before
