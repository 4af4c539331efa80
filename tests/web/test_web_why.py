"""Every reason why a lamp is not green is told in plain words, and each is a true one.

What makes a lamp red is the locking order's own table (IEC 60073's colours, from memory): not
secured, a fault at the switch, or a violation that nobody has acknowledged at the stand.
"""

from __future__ import annotations

import pytest
from web_filled import LAYOUT, Filler, busy_evening
from web_screen import Screen

from firmware_py.core.names import Fault, Stage
from firmware_py.layout.model import Role
from firmware_py.layout.reading import parse_layout
from firmware_py.logbook.records import ViolationRecord
from web.live.board import Board, begin
from web.live.plan import Plan
from web.live.why import CHANGING, NO_GREEN, NOT_KNOWN, NOT_LIVE, Why, why_not_green

TEXT = LAYOUT.read_text(encoding="utf-8")
PLAN = Plan(parse_layout(TEXT, LAYOUT.name))
SECURED = {"quarry-switch": "secured", "lead-switch": "secured", "tannery-switch": "secured"}
SHARED = TEXT.replace('switch = "dairy-switch"', 'switch = "quarry-switch"')


def violation(number: int, at: str, spur: str | None = None) -> ViolationRecord:
    return ViolationRecord(number, 0, 0, "gapped-points", at, spur, (), 1, 0, None, None)


def why(
    row: str = "quarry",
    lamp: str = "red",
    *,
    stages: dict[str, str] | None = None,
    faults: list[list[str]] | None = None,
    violations: tuple[ViolationRecord, ...] = (),
    live: bool = True,
    plan: Plan = PLAN,
) -> list[str]:
    board = begin({"stages": SECURED | (stages or {}), "faults": faults or []})
    return why_not_green(plan.rows[row], lamp, Why(board, plan, violations, live))


def test_a_green_lamp_needs_no_reason() -> None:
    assert why(lamp="green") == []


def test_nothing_is_proven_while_the_engine_does_not_guard() -> None:
    assert why(lamp="dark", live=False, stages={"quarry-switch": "lined"}) == [NOT_LIVE]


@pytest.mark.parametrize(
    ("stage", "says"),
    [
        ("unlocked", "unlocked; relock to get green"),
        ("lined", "lined for the spur; line it for the main and lock it to get green"),
        ("in-use", "a train is using it; once clear, line it for the main and lock it"),
        ("restored", "lined for the main but not locked; lock it to get green"),
        ("irregular", "locked, but not lined for the main; unlock it and put the points right"),
        ("upside-down", NOT_KNOWN),
    ],
)
def test_each_stage_but_secured_is_a_reason(stage: str, says: str) -> None:
    found = why(stages={"quarry-switch": stage})
    assert len(found) == 1
    assert found[0].startswith(says)


def test_every_stage_of_the_core_has_its_own_reason() -> None:
    found = {stage: why(stages={"quarry-switch": stage.value}) for stage in Stage}
    assert found.pop(Stage.SECURED) == [CHANGING]
    assert NOT_KNOWN not in {reason for reasons in found.values() for reason in reasons}
    assert len({tuple(reasons) for reasons in found.values()}) == len(Stage) - 1


def test_a_switch_without_a_lock_is_never_told_to_be_locked() -> None:
    for stage in ("lined", "in-use"):
        [reason] = why("lead-switch", "none", stages={"lead-switch": stage})
        assert "line it for the main to get green" in reason
        assert " lock" not in reason
    assert why("lead-switch", "none") == []


def test_a_violation_that_waits_is_named_by_number_and_by_what_it_is() -> None:
    [reason] = why(violations=(violation(3, "quarry-switch", "quarry"),))
    assert reason == "violation 3 waits for the host (points left gapped)"


def test_several_violations_are_counted_and_not_all_listed() -> None:
    two = tuple(violation(number, "quarry-gate", "quarry") for number in (5, 2))
    assert why(violations=two) == ["violations 2 and 5 wait for the host"]
    six = tuple(violation(number, "quarry-gate", "quarry") for number in range(1, 7))
    assert why(violations=six) == ["violations 1, 2, 3 and 3 more wait for the host"]


def test_a_violation_elsewhere_or_at_a_trap_or_key_turns_no_lamp_red() -> None:
    elsewhere = (violation(1, "dairy-switch", "dairy"), violation(2, "approach"))
    assert why(violations=elsewhere) == [CHANGING]
    assert why(violations=(violation(3, "quarry-key"),)) == [CHANGING]


def test_a_violation_at_the_other_spur_of_a_switch_is_a_reason_for_both() -> None:
    plan = Plan(parse_layout(SHARED, LAYOUT.name))
    there = (violation(4, "dairy-north-flag", "dairy"),)
    assert why(plan=plan, violations=there) == why("dairy", plan=plan, violations=there)
    assert "violation 4" in why(plan=plan, violations=there)[0]


@pytest.mark.parametrize(
    ("fault", "at", "says"),
    [
        ("lost", "quarry-switch.normal", "points contact lost; look at its cable"),
        ("lost", "quarry-switch.reverse", "points contact lost; look at its cable"),
        ("lost", "quarry-switch.hasp", "lock contact lost; look at its cable"),
        ("lost", "quarry-switch.detector", "track detector lost; look at its cable"),
        ("chattering", "quarry-switch.hasp", "lock contact chatters; look for a loose wire"),
        ("points-disputed", "quarry-switch", "points read both ways at once; look for a stuck"),
        ("soaked", "quarry-switch.hasp", "lock contact: soaked"),
        ("soaked", "quarry-switch.moon", "moon: soaked"),
        ("soaked", "quarry-switch", "contact: soaked"),
    ],
)
def test_each_fault_at_the_switch_is_a_reason(fault: str, at: str, says: str) -> None:
    [reason] = why(faults=[[fault, at]])
    assert reason.startswith(says)


def test_every_fault_and_contact_of_a_switch_has_words_of_its_own() -> None:
    contacts = PLAN.rows["quarry"].switch.contacts
    for fault in set(Fault) - {Fault.POINTS_DISPUTED}:
        for contact in contacts:
            [reason] = why(faults=[[fault.value, contact.name]])
            assert contact.role is Role.BUTTON or not reason.startswith(f"{contact.role} ")
            assert ":" not in reason


def test_a_fault_at_a_protection_or_another_switch_is_no_reason() -> None:
    others = [["lost", "quarry-flag.rack"], ["lost", "dairy-switch.normal"]]
    assert why(faults=others) == [CHANGING]


def test_both_points_contacts_lost_are_told_once() -> None:
    lost = [["lost", "quarry-switch.normal"], ["lost", "quarry-switch.reverse"]]
    assert why(faults=lost) == ["points contact lost; look at its cable"]


@pytest.mark.parametrize(
    "fault", [["lost", "quarry-switch.normal"], ["points-disputed", "quarry-switch"]]
)
def test_irregular_by_a_fault_is_no_accusation(fault: list[str]) -> None:
    reasons = why(stages={"quarry-switch": "irregular"}, faults=[fault])
    assert reasons[1:] == ["locked, but nothing proves that the points lie for the main"]
    locked = why(stages={"quarry-switch": "irregular"}, faults=[["lost", "quarry-switch.detector"]])
    assert locked[1].startswith("locked, but not lined for the main")


def test_the_weightiest_reason_comes_first() -> None:
    reasons = why(
        stages={"quarry-switch": "unlocked"},
        faults=[["lost", "quarry-switch.detector"]],
        violations=(violation(1, "quarry-switch"),),
    )
    assert [reason.split()[0] for reason in reasons] == ["violation", "track", "unlocked;"]


def test_a_secured_switch_whose_stand_has_no_green_lamp_says_so() -> None:
    text = TEXT.replace("lamps = { green = 20, red = 21, white = 16 }", "lamps = { red = 21 }")
    plan = Plan(parse_layout(text, LAYOUT.name))
    assert why(lamp="dark", plan=plan) == [NO_GREEN]


def test_a_switch_of_which_nothing_was_heard_is_told_to_be_red() -> None:
    known = Why(Board(), PLAN, (), live=True)
    assert why_not_green(PLAN.rows["rope"], "dark", known) == [NOT_KNOWN]


def test_whatever_the_core_shows_red_has_a_reason_and_what_is_green_has_none(
    screen: Screen, filler: Filler
) -> None:
    busy_evening(filler)
    rows = screen.wake(filler)["rows"].values()
    colours = {row["id"]: row["lamp"]["colour"] for row in rows}
    assert {"red", "green", "none"} <= set(colours.values())
    for row in rows:
        assert bool(row["why"]) == (row["lamp"]["colour"] in {"red", "dark"}), row["id"]
        assert CHANGING not in row["why"]
