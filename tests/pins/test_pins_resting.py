"""A bolt's coil that was drawn for too long rests, and nothing else does."""

from __future__ import annotations

import pytest

from firmware_py.core.names import Shows
from firmware_py.layout.reading import parse_layout
from firmware_py.pins.board import Board
from firmware_py.pins.mock import SimulatedFactory

LAYOUT = """
[[switch]]
id = "mill-switch"
contacts = { hasp = 5, normal = 6, reverse = 13 }
lamps = { red = 21 }
bolt = 12

[[spur]]
id = "mill"
switch = "mill-switch"
power = 17
"""
BOLT, RED, POWER = ("mill-switch", "bolt"), ("mill-switch", "red"), ("mill", "power")


class Coil:
    """A board whose clock a test turns by hand; it is refreshed every two seconds."""

    def __init__(self, wiring: str = "") -> None:
        self.layout = parse_layout(LAYOUT + wiring, "mill.toml")
        factory = SimulatedFactory()
        factory.rest(self.layout.contacts)
        self.now_ns = 10**12
        self.board = Board(self.layout, factory, lambda: self.now_ns)
        self.said: list[str] = []
        self.board.say_rests_to(self.said.append)

    def show(self, of: tuple[str, str], shows: Shows) -> None:
        self.board.show(*of, shows)

    def energised(self, of: tuple[str, str]) -> bool:
        return bool(self.board.outputs[of].value)

    def wait(self, seconds: int) -> float:
        """Let time go by; how long the bolt was energised meanwhile."""
        on_s = 0.0
        for _ in range(seconds // 2):
            on_s += 2.0 * self.energised(BOLT)
            self.now_ns += 2 * 10**9
            self.board.refresh()
        return on_s


@pytest.fixture
def coil() -> Coil:
    return Coil()


def test_a_coil_of_which_nothing_is_known_rests_after_a_minute(coil: Coil) -> None:
    coil.show(BOLT, Shows.DRAWN)
    coil.board.refresh()
    assert coil.wait(58) == 58
    assert coil.energised(BOLT)
    coil.wait(2)
    assert not coil.energised(BOLT)
    assert coil.board.shown()[BOLT] is Shows.DRAWN  # What the rules have is what a replay shows.
    assert coil.said == [
        "mill-switch.bolt was drawn for 60 s; its coil rests for as long, shut, and so on in turn "
        "while it may be drawn."
    ]


def test_half_the_time_is_half_the_heat_and_it_is_said_once(coil: Coil) -> None:
    coil.show(BOLT, Shows.DRAWN)
    coil.board.refresh()
    assert coil.wait(3_600) == pytest.approx(1_800, abs=60)
    assert len(coil.said) == 1


def test_a_bolt_that_was_shut_meanwhile_begins_anew(coil: Coil) -> None:
    coil.show(BOLT, Shows.DRAWN)
    coil.wait(50)
    coil.show(BOLT, Shows.SHUT)
    coil.wait(2)
    coil.show(BOLT, Shows.DRAWN)
    coil.board.refresh()
    assert coil.wait(50) == 50
    assert coil.said == []


def test_drawing_it_again_at_once_is_no_rest(coil: Coil) -> None:
    coil.show(BOLT, Shows.DRAWN)
    coil.board.refresh()
    coil.wait(60)
    coil.show(BOLT, Shows.SHUT)
    coil.show(BOLT, Shows.DRAWN)
    coil.wait(2)
    assert not coil.energised(BOLT)


def test_a_shut_bolt_never_comes_back_from_its_rest(coil: Coil) -> None:
    coil.show(BOLT, Shows.DRAWN)
    coil.board.refresh()
    coil.wait(80)
    coil.show(BOLT, Shows.SHUT)
    assert coil.wait(300) == 0


def test_lamps_and_power_need_no_rest(coil: Coil) -> None:
    coil.show(RED, Shows.STEADY)
    coil.show(POWER, Shows.ON)
    coil.wait(600)
    assert coil.energised(RED)
    assert coil.energised(POWER)


@pytest.mark.parametrize(
    "wiring", ['[wiring]\nbolt = "servo"', "[wiring]\nbolt_drawn_s = 0"], ids=["servo", "for-ever"]
)
def test_what_bears_it_is_left_alone(wiring: str) -> None:
    coil = Coil(wiring)
    coil.show(BOLT, Shows.DRAWN)
    coil.board.refresh()
    assert coil.wait(3_600) == 3_600


def test_the_files_own_time_goes_before() -> None:
    coil = Coil('[wiring]\nbolt = "coil"\nbolt_drawn_s = 10')
    coil.show(BOLT, Shows.DRAWN)
    coil.board.refresh()
    coil.wait(10)
    assert not coil.energised(BOLT)
    coil.wait(10)
    assert coil.energised(BOLT)


def test_making_safe_shuts_it_whatever_it_does(coil: Coil) -> None:
    coil.show(BOLT, Shows.DRAWN)
    coil.board.refresh()
    coil.wait(70)
    coil.board.safe()
    assert not coil.energised(BOLT)
    assert coil.wait(120) == 0
