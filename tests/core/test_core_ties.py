"""Deadlines of one instant go by id, whatever the order in the layout file (section 3).

And some things that only show where there are two of them.
"""

from __future__ import annotations

import pytest
from core_bench import Bench, rich_layout

from firmware_py.core.agenda import Agenda, Due, Timer
from firmware_py.core.core import Core
from firmware_py.layout.model import Layout
from firmware_py.layout.reading import parse_layout

TEXT = """
[layout]
name = "Two of each"
scale = "HO"
[times]
settle = 0.02
"""
SWITCH = """
[[switch]]
id = "{id}-switch"
contacts = {{ hasp = "auto", normal = "auto", reverse = "auto", detector = "auto" }}
buzzer = {pin}
[[spur]]
id = "{id}"
switch = "{id}-switch"
[[gate]]
id = "{id}-gate"
spur = "{id}"
contacts = {{ shut = "auto", hasp = "auto" }}
"""


def two() -> Layout:
    """Two of each, the later letter first."""
    text = TEXT + SWITCH.format(id="b", pin=4) + SWITCH.format(id="a", pin=5)
    return parse_layout(text, "two.toml")


def both(bench: Bench, seconds: float, contact: str, made: bool) -> list[str]:
    """The same edge at both, b's first."""
    for place in "ba":
        bench.read(seconds, f"{place}{contact}", made)
    return bench.wait(seconds + 1)


def ats(lines: list[str], rule: str) -> list[str]:
    """Where a rule was broken, in order."""
    return [line.split()[3] for line in lines if line.split()[2:3] == [rule]]


def test_settlings_go_by_contact() -> None:
    stages = [line for line in both(Bench(two()), 1, "-switch.hasp", False) if "stage" in line]
    assert stages == ["stage a-switch unlocked", "stage b-switch unlocked"]


def test_the_rules_of_time_go_by_switch() -> None:
    bench = Bench(two())
    both(bench, 1, "-switch.hasp", False)
    assert ats(bench.wait(122), "left-unlocked") == ["a-switch", "b-switch"]
    both(bench, 130, "-switch.normal", False)
    assert ats(bench.wait(136), "gapped-points") == ["a-switch", "b-switch"]
    both(bench, 140, "-switch.reverse", True)
    assert ats(bench.wait(741), "left-lined") == ["a-switch", "b-switch"]


def test_returns_go_by_spur() -> None:
    """Both gates are left open as both switches are secured."""
    bench = Bench(two())
    for seconds, contact, made in [
        (1, "-switch.hasp", False),
        (3, "-switch.normal", False),
        (5, "-switch.reverse", True),
        (7, "-gate.hasp", False),
        (9, "-switch.reverse", False),
        (11, "-switch.normal", True),
        (13, "-switch.hasp", True),
    ]:
        both(bench, seconds, contact, made)
    assert ats(bench.wait(134), "not-returned") == ["a-gate", "b-gate"]


def test_quiet_contacts_go_by_name() -> None:
    bench = Bench(two())
    for edge in range(30):
        for place in "ba":
            bench.read(1 + edge / 100, f"{place}-gate.shut", edge % 2 == 1)
    quiet = [line for line in bench.wait(10) if line.startswith("fault")]
    assert quiet == [f"fault chattering {place}-gate.shut True" for place in "ab"]


def test_buzzers_fall_silent_by_switch() -> None:
    bench = Bench(two(), outputs=True)
    buzzes = [line for line in both(bench, 1, "-gate.shut", False) if "buzzer" in line]
    assert buzzes == [f"output {place}-switch buzzer on" for place in "ab"]
    assert bench.wait(3.019999) == []
    assert bench.wait(3.02) == [f"output {place}-switch buzzer off" for place in "ab"]


@pytest.mark.parametrize("late", ["marl-switch.detector", "marl-switch.button"])
def test_one_of_two_faults_at_first_is_a_fault_still(late: str) -> None:
    """Two contacts are unknown as the session begins, and answer again one after the other."""
    names = ["marl-switch.detector", "marl-switch.button"]
    bench = Bench(rich_layout(), dict.fromkeys(names))
    names.remove(late)
    bench.settle(1, names[0], False)
    assert bench.core.faults() == [("lost", late)]
    assert bench.shows("marl-switch", "green") == "off"
    bench.settle(2, late, False)
    assert bench.core.faults() == []
    assert bench.shows("marl-switch", "green") == "steady"


def test_disputed_points_at_first_are_a_fault_beside_a_lost_contact() -> None:
    bench = Bench(rich_layout(), {"stub-switch.reverse": True, "stub-switch.button": None})
    assert bench.shows("stub-switch", "bolt") == "shut"
    bench.settle(1, "stub-switch.button", False)
    assert bench.core.faults() == [("points-disputed", "stub-switch")]
    assert bench.shows("stub-switch", "bolt") == "shut"
    bench.settle(2, "stub-switch.reverse", False)
    assert bench.core.faults() == []
    assert bench.shows("stub-switch", "bolt") == "drawn"


def test_the_foreman_goes_before_the_brake_test_in_one_event() -> None:
    """Section 10. A cut leaves in its test, and the chocks in their racks are back with it gone."""
    occupied = {"marl.detector": True, "marl-chock.rack": True, "marl-chock-far.rack": True}
    bench = Bench(rich_layout(), {**occupied})
    bench.say(1, "ask", "marl")
    bench.say(1, "start-brake-test", "marl", 9)
    assert bench.say(2, "work-done", "marl") == ["phase marl closing marl-chock"]
    assert bench.settle(3, "marl.detector", False) == [
        "foreman marl not-asked",
        "brake-test marl broken",
        "violation 1 moved-under-flag marl-flag marl",
        "violation 2 moved-in-brake-test marl marl",
        "phase marl idle -",
    ]


def test_a_core_keeps_no_notes_unless_it_is_told_to() -> None:
    core = Core(rich_layout())
    core.reading(1, "marl-switch.hasp", False)
    core.advance(1_000_000)
    assert core.take_notes() == []


def test_a_timer_that_is_moved_does_not_fill_the_heap() -> None:
    """A detector that chatters for a week must not eat the memory."""
    agenda = Agenda()
    timer = Timer(agenda, Due.SETTLING, "a", lambda: None)
    for due_us in [*range(10, 1000), 999, 999]:
        timer.set(due_us)
    assert len(agenda.heap) == 1
    timer.clear()
    timer.set(10)
    timer.set(10)
    assert len(agenda.heap) == 1
    assert agenda.next_us() == 10
