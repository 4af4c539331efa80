"""Every fault is named rightly and none is invented; what that means is in ``checking.py``.

All of the demo's single faults, and as many random sets as you like, are run by
``python -m tests.commissioning``; here runs a sample of them.
"""

from __future__ import annotations

from random import Random

import pytest

from firmware_py.commissioning.model import Finding, Kind
from firmware_py.commissioning.planning import Planner

from .campaign import campaign, commissioned, demo, random_sets, single_faults
from .checking import complaint
from .faults import Fault, Wrong
from .layouts import kiln

HASP, NORMAL, REVERSE = "kiln-switch.hasp", "kiln-switch.normal", "kiln-switch.reverse"
HOOK, FOULING = "kiln-key.hook", "kiln.fouling"
RED, GREEN = "red of kiln-switch", "green of kiln-switch"


def test_random_sets_of_one_to_three_faults_on_the_demo() -> None:
    figures = campaign(random_sets(range(50_000, 50_060), demo()), demo())
    assert (figures.sets, figures.wrong) == (60, [])


def test_a_sample_of_the_demos_single_faults_with_some_of_every_kind() -> None:
    every, random = single_faults(demo()), Random(1)
    sample = [
        wrong
        for fault in Fault
        for wrong in random.sample([one for one in every if one.fault is fault], 5)
    ]
    figures = campaign(enumerate([[one] for one in sample]), demo())
    assert (figures.literal, figures.wrong) == (len(sample), [])


def test_every_single_fault_on_a_small_layout_with_inverted_detectors() -> None:
    every = single_faults(kiln())
    figures = campaign(enumerate([[one] for one in every]), kiln())
    assert (figures.literal, figures.wrong) == (len(every), [])


def test_random_sets_on_the_small_layout_where_faults_often_meet() -> None:
    figures = campaign(random_sets(range(9_000, 9_200), kiln()), kiln())
    assert (figures.sets, figures.wrong) == (200, [])


@pytest.mark.parametrize("seed", range(3))
def test_nothing_is_found_where_nothing_is_wrong(seed: int) -> None:
    for layout in (demo(), kiln()):
        assert commissioned(layout, [], seed) == ()


MET = [
    (
        [Wrong(Fault.BOUNCE, (HOOK,)), Wrong(Fault.SHORT, (HOOK, FOULING))],
        {(Kind.BOUNCING, (HOOK,)), (Kind.TOGETHER, (FOULING, HOOK))},
    ),
    (
        [Wrong(Fault.SWAP, (HASP, NORMAL)), Wrong(Fault.SWAP, (NORMAL, HOOK))],
        {(Kind.SWAPPED, (HASP, NORMAL, HOOK))},
    ),
    (
        [Wrong(Fault.SWAP, (HASP, HOOK)), Wrong(Fault.INVERT, (HASP,))],
        {(Kind.SWAPPED, (HASP, HOOK)), (Kind.INVERTED, (HASP,))},
    ),
    (
        [Wrong(Fault.SWAP, (HASP, HOOK)), Wrong(Fault.OPEN, (HASP,))],
        {(Kind.SWAPPED, (HASP, HOOK)), (Kind.DEAD, (HASP,))},
    ),
    # Of these no builder can tell the inner one: the first of each is all that shows.
    ([Wrong(Fault.OPEN, (HASP,)), Wrong(Fault.INVERT, (HASP,))], {(Kind.DEAD, (HASP,))}),
    ([Wrong(Fault.GROUND, (HASP,)), Wrong(Fault.BOUNCE, (HASP,))], {(Kind.STUCK, (HASP,))}),
    (
        [Wrong(Fault.SHORT, (HASP, HOOK)), Wrong(Fault.GROUND, (HASP,))],
        {(Kind.STUCK, (HASP,)), (Kind.STUCK, (HOOK,))},
    ),
    ([Wrong(Fault.SWAP, (HASP, HOOK)), Wrong(Fault.SWAP, (HASP, HOOK))], set()),
    # Points lie one way at a time, so an inverted contact hides what is joined to it.
    (
        [
            Wrong(Fault.INVERT, (NORMAL,)),
            Wrong(Fault.SHORT, (NORMAL, REVERSE)),
            Wrong(Fault.OPEN, (REVERSE,)),
        ],
        {(Kind.INVERTED, (NORMAL,)), (Kind.TOGETHER, (NORMAL, REVERSE))},
    ),
]


@pytest.mark.parametrize(
    ("wrong", "named"), MET, ids=lambda value: " ".join(sorted(map(str, value)))
)
def test_faults_that_meet(wrong: list[Wrong], named: set[tuple[Kind, tuple[str, ...]]]) -> None:
    found = commissioned(kiln(), wrong, 1)
    assert {(one.kind, one.names) for one in found} == named


def said(wrong: list[Wrong], findings: list[Finding]) -> str | None:
    inverted = {contact.name: contact.inverted for contact in kiln().contacts}
    return complaint(wrong, findings, inverted, {RED: False, GREEN: False}, {})


def named(kind: Kind, *names: str) -> Finding:
    return Finding(kind, names, "", "")


def test_the_check_itself_complains() -> None:
    swap = [Wrong(Fault.SWAP, (HASP, HOOK))]
    right = named(Kind.SWAPPED, HASP, HOOK)
    assert said(swap, [right]) is None
    assert "reads otherwise" in str(said(swap, []))
    assert "reads otherwise" in str(said(swap, [named(Kind.SWAPPED, HASP, NORMAL)]))
    assert "2 faults named for 1" in str(said(swap, [right, named(Kind.NOISY, HASP)]))
    assert "1 faults named for 0" in str(said([], [named(Kind.BOUNCING, HASP)]))
    both = [Wrong(Fault.GROUND, (HASP,)), Wrong(Fault.GROUND, (HOOK,))]
    joined = [named(Kind.TOGETHER, HASP, HOOK), named(Kind.STUCK, HASP)]
    assert "not named as they were done" in str(said(both, joined))
    noise, bounce = [Wrong(Fault.NOISE, (HASP,))], [Wrong(Fault.BOUNCE, (HASP,))]
    assert "reads otherwise" in str(said(noise, [named(Kind.BOUNCING, HASP)]))
    assert "reads otherwise" in str(said(bounce, [named(Kind.NOISY, HASP)]))
    lamps = [Wrong(Fault.LAMP_SWAP, (RED, GREEN))]
    assert "reads otherwise" in str(said(lamps, []))


def test_the_campaign_fails_where_a_veil_is_not_lifted(monkeypatch: pytest.MonkeyPatch) -> None:
    """Without asking for two contacts at once, joined wires that rest closed look stuck."""
    monkeypatch.setattr(Planner, "_doubtful", lambda _self, _hands: None)
    short = [Wrong(Fault.SHORT, ("kiln-switch.detector", "kiln.detector"))]
    assert campaign([(0, short)], kiln()).wrong != []
