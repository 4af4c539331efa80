"""The automatic foreman: he answers after a while, drawn from the layout's range and logged."""

from __future__ import annotations

import re
from collections.abc import Callable
from random import Random

import pytest

from firmware_py.core.entries import ForemanEntry, PhaseEntry
from firmware_py.core.names import Command, Foreman, Phase
from firmware_py.core.orders import Order
from firmware_py.engine.foreman import AutoForeman
from firmware_py.engine.ports import Given
from firmware_py.layout.reading import parse_layout

LAYOUT = parse_layout(
    """
[layout]
name = "Slate Basin"
scale = "HO"
[[switch]]
id = "mill-switch"
lock = "none"
contacts = { normal = 6, reverse = 13 }
[[spur]]
id = "mill"
switch = "mill-switch"
foreman = "auto"
foreman_seconds = [20, 60]
[[switch]]
id = "quarry-switch"
lock = "none"
contacts = { normal = 16, reverse = 17 }
[[spur]]
id = "quarry"
switch = "quarry-switch"
foreman = "host"
""",
    "basin.toml",
)


class Diary:
    """A schedule that waits for the test to let time pass."""

    def __init__(self) -> None:
        self.jobs: dict[str, tuple[float, Callable[[], None]]] = {}

    def after(self, name: str, seconds: float, act: Callable[[], None]) -> None:
        self.jobs[name] = seconds, act

    def cancel(self, name: str) -> None:
        self.jobs.pop(name, None)


class Case:
    def __init__(self, seed: int = 1) -> None:
        self.diary = Diary()
        self.given: list[Given] = []
        self.remarks: list[tuple[str, int]] = []
        self.foreman = AutoForeman(
            LAYOUT,
            self.diary,
            self.given.append,
            lambda text, t_us: self.remarks.append((text, t_us)),
            Random(seed),
        )

    def says(self, *words: Foreman, spur: str = "mill") -> None:
        for word in words:
            self.foreman.hear(ForemanEntry(5_000_000, spur, word))


@pytest.fixture
def case() -> Case:
    return Case()


def test_he_answers_an_asking_crew_with_a_release(case: Case) -> None:
    case.says(Foreman.ASKED)
    [(_, act)] = case.diary.jobs.values()
    assert case.given == []
    act()
    assert case.given == [Given(Order(Command.RELEASE, "mill"))]


def test_the_delay_lies_in_the_layouts_range_and_is_told() -> None:
    drawn = set()
    for seed in range(200):
        case = Case(seed)
        case.says(Foreman.ASKED)
        [(seconds, _)] = case.diary.jobs.values()
        assert 20 <= seconds <= 60
        [(text, t_us)] = case.remarks
        assert re.search(r"([\d.]+) s", text).group(1) == f"{seconds:.1f}"  # type: ignore[union-attr]
        assert t_us == 5_000_000
        drawn.add(seconds)
    assert min(drawn) < 30 < 50 < max(drawn), "it is drawn from all of the range"


def test_the_same_seed_gives_the_same_delay() -> None:
    delays = []
    for _ in range(2):
        case = Case(77)
        case.says(Foreman.ASKED)
        delays += [seconds for seconds, _ in case.diary.jobs.values()]
    assert delays[0] == delays[1]


@pytest.mark.parametrize("word", [Foreman.NOT_ASKED, Foreman.RELEASED])
def test_he_does_not_answer_what_is_over(case: Case, word: Foreman) -> None:
    """The crew left, or the host was faster."""
    case.says(Foreman.ASKED, word)
    assert case.diary.jobs == {}


def test_the_hosts_not_yet_does_not_send_him_away(case: Case) -> None:
    case.says(Foreman.ASKED, Foreman.HELD)
    assert len(case.diary.jobs) == 1


def test_he_answers_at_his_own_spur_alone(case: Case) -> None:
    case.says(Foreman.ASKED, spur="quarry")
    case.foreman.hear(PhaseEntry(1, "mill", Phase.OPENING, "foreman"))
    assert case.diary.jobs == {}
    assert case.remarks == []
