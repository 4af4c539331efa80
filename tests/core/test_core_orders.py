"""Orders that make sense and those that don't, in words; and what a core won't be told at all."""

from __future__ import annotations

from collections.abc import Callable

import pytest
from core_bench import Bench, rich_layout

from firmware_py.core.core import Core
from firmware_py.core.names import Command
from firmware_py.core.orders import Order

ASKED = [("ask", None)]
HELD = [*ASKED, ("hold", None)]
RELEASED = [*ASKED, ("release", None)]
DONE = [*RELEASED, ("work-done", None)]
TESTING = [*ASKED, ("start-brake-test", 2)]

Said = list[tuple[str, int | None]]


@pytest.mark.parametrize(
    ("before", "order", "why"),
    [
        (ASKED, ("ask", None), "the foreman is asked already"),
        (HELD, ("ask", None), "the foreman is asked already, and has said not yet"),
        (RELEASED, ("ask", None), "the foreman has released the spur already"),
        ([], ("hold", None), "nobody asked"),
        (HELD, ("hold", None), "the foreman has said not yet already"),
        (RELEASED, ("hold", None), "the foreman has released the spur already"),
        ([], ("release", None), "nobody asked"),
        (RELEASED, ("release", None), "the foreman has released the spur already"),
        ([], ("hand-back", None), "the foreman has not released the spur"),
        (HELD, ("hand-back", None), "the foreman has not released the spur"),
        ([], ("work-done", None), "no work is going on there"),
        (DONE, ("work-done", None), "the work there is done already"),
        ([], ("start-brake-test", 3), "no work is going on there"),
        (TESTING, ("start-brake-test", 3), "a brake test runs there already"),
        (ASKED, ("start-brake-test", 0), "a brake test needs at least one car"),
        (ASKED, ("start-brake-test", None), "a brake test needs at least one car"),
    ],
)
def test_an_order_that_makes_no_sense_is_refused_with_the_reason(
    before: Said, order: tuple[str, int | None], why: str
) -> None:
    """Section 8's table, row by row."""
    bench = Bench(rich_layout())
    for command, cars in before:
        assert "refused" not in bench.say(1, command, "marl", cars)[0]
    assert bench.say(2, order[0], "marl", order[1]) == [f"refused {order[0]} marl {why}"]


def test_a_spur_without_a_foreman_is_asked_for_once() -> None:
    bench = Bench(rich_layout())
    assert bench.say(1, "ask", "ash") == ["phase ash opening ash-switch"]
    assert bench.say(2, "ask", "ash") == ["refused ask ash the spur is being worked already"]
    for command in ("hold", "release"):
        assert bench.say(3, command, "ash") == [f"refused {command} ash nobody asked"]
    refused = "refused hand-back ash the foreman has not released the spur"
    assert bench.say(4, "hand-back", "ash") == [refused]


def test_the_foreman_s_answers_in_order() -> None:
    bench = Bench(rich_layout())
    assert bench.say(1, "ask", "marl") == ["foreman marl asked", "phase marl opening foreman"]
    assert bench.say(2, "hold", "marl") == ["foreman marl held"]
    released = ["foreman marl released", "phase marl opening marl-flag"]
    assert bench.say(3, "release", "marl") == released
    # With nothing else taken off, everything is back as soon as the spur is the foreman's again.
    assert bench.say(4, "hand-back", "marl") == ["foreman marl not-asked", "phase marl idle -"]


def test_a_brake_test_of_one_car_is_the_least() -> None:
    bench = Bench(rich_layout())
    bench.say(1, "ask", "marl")
    # (0.3065 x 60 + 50) / 12.5 seconds, by the arithmetic of section 11.
    assert bench.say(1, "start-brake-test", "marl", 1) == ["brake-test marl running 1 5.471"]
    assert bench.wait(6.471199) == []
    assert bench.wait(6.4712) == ["brake-test marl done"]


def test_brake_tests_due_at_one_instant_go_by_id() -> None:
    """Not by the order in the file, where marl comes before lime."""
    bench = Bench(rich_layout())
    for spur in ("marl", "lime"):
        bench.say(1, "ask", spur)
        bench.say(1, "start-brake-test", spur, 2)
    assert bench.wait(60) == ["brake-test lime done", "brake-test marl done"]


def test_a_button_asks_and_then_ends_the_work() -> None:
    bench = Bench(rich_layout())
    asked = ["foreman marl asked", "phase marl opening foreman"]
    assert bench.settle(1, "marl-switch.button", True) == asked
    assert bench.settle(2, "marl-switch.button", False) == []
    # The work that never began is over at once.
    assert bench.settle(3, "marl-switch.button", True) == [
        "foreman marl not-asked",
        "phase marl idle -",
    ]


def test_a_button_where_no_spur_is_does_nothing() -> None:
    assert Bench(rich_layout()).settle(1, "stub-switch.button", True) == []


def test_acknowledging() -> None:
    bench = Bench(rich_layout())
    assert bench.acknowledge(1, 0) == ["refused acknowledge 0 there is no violation 0"]
    assert bench.acknowledge(1, 1) == ["refused acknowledge 1 there is no violation 1"]
    assert bench.settle(1, "marl-gate.shut", False) == ["violation 1 gate-forced marl-gate marl"]
    assert bench.acknowledge(2, 2) == ["refused acknowledge 2 there is no violation 2"]
    assert bench.acknowledge(2, -1) == ["refused acknowledge -1 there is no violation -1"]
    assert bench.acknowledge(2, None) == ["refused acknowledge - there is no violation 0"]
    assert bench.shows("marl-switch", "red") == "flashing"
    assert bench.acknowledge(2, 1) == []
    assert bench.shows("marl-switch", "red") == "off"
    again = "refused acknowledge 1 violation 1 is acknowledged already"
    assert bench.acknowledge(3, 1) == [again]


def test_what_the_layout_lacks_is_a_key_error() -> None:
    with pytest.raises(KeyError, match="nowhere"):
        Core(rich_layout(), {"nowhere.hasp": True})
    core = Core(rich_layout())
    with pytest.raises(KeyError, match="nowhere"):
        core.reading(1, "nowhere.hasp", True)
    with pytest.raises(KeyError, match="nowhere"):
        core.order(1, Order(Command.ASK, spur="nowhere"))
    with pytest.raises(KeyError, match=r"^''$"):
        core.order(1, Order(Command.ASK))


def test_time_does_not_fall() -> None:
    core = Core(rich_layout())
    core.advance(5)
    core.advance(5)
    verbs: list[Callable[[], object]] = [
        lambda: core.advance(4),
        lambda: core.reading(4, "marl-switch.hasp", False),
        lambda: core.order(4, Order(Command.ASK, spur="marl")),
    ]
    for tell in verbs:
        with pytest.raises(ValueError, match=r"^time falls: 4 µs after 5 µs$"):
            tell()
    assert core.now_us == 5
