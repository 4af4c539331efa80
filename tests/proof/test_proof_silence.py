"""What must never be silent (property 5): the exploration beside an encoding for a solver."""

import pytest

from tests.proof.encoded_silence import CONTACTS, RULES, must_raise, silent, situation
from tests.proof.proof_layouts import ENCODED
from tests.proof.seeding import silence_with
from tests.proof.silence_found import Beside, Found, found_in

NEEDED_FOR = {
    "moved-while-locked": "points off normal under a lock",
    "thrown-under-train": "a throw under a train",
    "locked-off-normal": "points off normal under a lock",
    "gapped-points": "points left gapped",
    "entered-gapped-points": "a move over gapped points",
    "moved-under-flag": "a move on the spur under a flag",
}


@pytest.fixture(scope="module")
def found() -> Found:
    """What the shipped core raises in every situation of one spur."""
    return found_in(ENCODED)


@pytest.fixture(scope="module")
def beside(found: Found) -> Beside:
    """The same for the solver."""
    return Beside(found)


def test_the_solver_proves_that_no_danger_is_silent() -> None:
    s = situation()
    assert list(silent(must_raise(s), s)) == []


@pytest.mark.parametrize("rule", RULES)
def test_without_one_of_the_rules_a_danger_would_be_silent(rule: str) -> None:
    s = situation()
    raised = must_raise(s)
    del raised[rule]
    assert NEEDED_FOR[rule] in list(silent(raised, s))


def test_the_core_raises_what_the_solver_says_and_nothing_else(
    found: Found, beside: Beside
) -> None:
    assert list(beside.differences()) == []
    raised = {rule for box in found.boxes for rule in box.told[0]}
    assert raised == set(RULES)


@pytest.mark.parametrize("rule", RULES)
def test_a_rule_that_is_never_raised_is_noticed(beside: Beside, rule: str) -> None:
    differences = list(beside.without(rule).differences())
    assert any(it.startswith(f"silent: {rule}") for it in differences)
    assert any(it.startswith(f"silent: {NEEDED_FOR[rule]}") for it in differences)


def test_situations_that_were_left_out_are_noticed(found: Found) -> None:
    event = CONTACTS.index("reverse")
    fewer = Found({box: it for box, it in found.boxes.items() if box.event != event})
    assert any("never met by the core" in it for it in Beside(fewer).differences())


@pytest.mark.parametrize(
    ("fault", "rule"),
    [("gapped-points", "gapped-points"), ("locked-reverse-only", "locked-off-normal")],
)
def test_a_core_that_dropped_a_rule_is_noticed(fault: str, rule: str) -> None:
    assert any(it.startswith(f"silent: {rule}") for it in silence_with(fault))
