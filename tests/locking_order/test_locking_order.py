"""The order unlock, line, use, restore, relock: the core against an independent state machine.

The machine is built with the ``transitions`` library from the rulebook's table of stages; the
order itself is the layout owner's practice, modelled on hand-operated switches of the full size.
"""

from collections.abc import Sequence
from itertools import product

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from locking_machine import (
    PADLOCKED,
    STATES,
    UNLOCKED,
    WITHOUT_LOCK,
    LockingOrder,
    Start,
    Trigger,
)
from locking_rig import POINTS, Rig

LOCK = [Trigger.HASP_OPENS, Trigger.HASP_CLOSES]
UNLOCKABLE = [trigger for trigger in Trigger if trigger not in LOCK]
BOTH = pytest.mark.parametrize("padlocked", [True, False], ids=["padlock", "no lock"])


def triggers_of(padlocked: bool) -> list[Trigger]:
    """What can happen to a switch, with or without a padlock."""
    return [*Trigger] if padlocked else UNLOCKABLE


def drive(triggers: Sequence[Trigger], *, padlocked: bool, start: Start | None = None) -> list[str]:
    """Drive both through what is possible of ``triggers``; the answer is the machine's stages."""
    machine = LockingOrder(padlocked=padlocked, start=start)
    rig = Rig(padlocked=padlocked, start=start)
    stages = [machine.state]
    assert rig.stage == machine.state
    for trigger in triggers:
        if machine.possible(trigger):
            stages.append(machine.pull(trigger))
            assert rig.pull(trigger) == stages[-1], (trigger, stages)
    return stages


@settings(max_examples=200, deadline=None)
@given(st.lists(st.sampled_from(Trigger), max_size=60))
def test_a_padlocked_switch_agrees_after_every_trigger(triggers: list[Trigger]) -> None:
    drive(triggers, padlocked=True)


@settings(max_examples=100, deadline=None)
@given(st.lists(st.sampled_from(UNLOCKABLE), max_size=60))
def test_a_switch_without_lock_agrees_after_every_trigger(triggers: list[Trigger]) -> None:
    drive(triggers, padlocked=False)


@BOTH
def test_every_sequence_of_four_triggers_agrees(padlocked: bool) -> None:
    """All of them, not a sample; impossible triggers (a closed hasp closes) are left out."""
    for triggers in product(triggers_of(padlocked), repeat=4):
        drive(triggers, padlocked=padlocked)


@BOTH
@settings(max_examples=100, deadline=None)
@given(data=st.data(), locked=st.booleans(), points=st.sampled_from([*POINTS]), train=st.booleans())
def test_a_session_that_begins_anywhere_agrees(
    padlocked: bool, data: st.DataObject, locked: bool, points: Trigger, train: bool
) -> None:
    """However hasp, points and detector stand at 0: the first stage agrees, and all after it."""
    triggers = data.draw(st.lists(st.sampled_from(triggers_of(padlocked)), max_size=20))
    drive(triggers, padlocked=padlocked, start=Start(locked, points, train))


@BOTH
def test_every_way_to_begin_with_every_pair_of_triggers_agrees(padlocked: bool) -> None:
    for begins in product((True, False), POINTS, (True, False)):
        for triggers in product(triggers_of(padlocked), repeat=2):
            drive(triggers, padlocked=padlocked, start=Start(*begins))


def test_the_order_is_unlock_line_use_restore_relock() -> None:
    """An honest job passes the five stages in this order, in both, and tells of each once."""
    job = [
        Trigger.HASP_OPENS,
        Trigger.POINTS_TO_REVERSE,
        Trigger.OCCUPIED,
        Trigger.CLEAR,
        Trigger.POINTS_TO_NORMAL,
        Trigger.HASP_CLOSES,
    ]
    order = ["unlocked", "lined", "in-use", "restored", "secured"]
    assert list(dict.fromkeys(drive(job, padlocked=True)[1:])) == order
    rig = Rig(padlocked=True)
    for trigger in job:
        rig.pull(trigger)
    assert rig.entered == order


def test_without_a_lock_the_order_is_line_use_restore() -> None:
    job = [Trigger.POINTS_TO_REVERSE, Trigger.OCCUPIED, Trigger.POINTS_TO_NORMAL]
    assert drive(job, padlocked=False) == ["secured", "lined", "in-use", "secured"]


@pytest.mark.parametrize(
    ("triggers", "stage"),
    [
        ([Trigger.POINTS_BETWEEN], "irregular"),
        ([Trigger.POINTS_BETWEEN, Trigger.HASP_OPENS], "unlocked"),
        ([Trigger.POINTS_TO_REVERSE, Trigger.HASP_OPENS], "lined"),
        ([Trigger.OCCUPIED, Trigger.POINTS_TO_REVERSE, Trigger.HASP_OPENS], "in-use"),
        ([Trigger.HASP_OPENS, Trigger.POINTS_BETWEEN, Trigger.POINTS_TO_NORMAL], "unlocked"),
        ([Trigger.HASP_OPENS, Trigger.POINTS_TO_REVERSE, Trigger.POINTS_DISPUTED], "lined"),
        ([Trigger.HASP_OPENS, Trigger.POINTS_TO_REVERSE, Trigger.HASP_CLOSES], "irregular"),
    ],
)
def test_worked_by_hand(triggers: list[Trigger], stage: str) -> None:
    """Cases whose answer was read off the rulebook's table by hand, in both machine and core."""
    assert drive(triggers, padlocked=True)[-1] == stage


def test_a_restored_switch_is_lined_anew() -> None:
    """A second spell within one unlocking is in use only once a train comes again."""
    first = [Trigger.HASP_OPENS, Trigger.POINTS_TO_REVERSE, Trigger.OCCUPIED, Trigger.CLEAR]
    again = [Trigger.POINTS_TO_NORMAL, Trigger.POINTS_TO_REVERSE]
    assert drive([*first, *again], padlocked=True)[-2:] == ["restored", "lined"]


def test_the_machine_itself_leads_nowhere_but_by_the_order() -> None:
    """What the machine's own table allows: the order's arrows, and the ways of a forced lock."""
    arrows = {
        (source, row["dest"])
        for row in PADLOCKED
        for source in ([row["source"]] if isinstance(row["source"], str) else row["source"])
        if row["dest"] is not None and row["dest"] != source
    }
    assert {source for source, dest in arrows if dest == "secured"} == {*UNLOCKED, "irregular"}
    assert {source for source, dest in arrows if dest == "unlocked"} == {"secured", "irregular"}
    assert {source for source, dest in arrows if dest == "restored"} == {"lined", "in-use"}
    assert ("secured", "lined") not in arrows
    assert {dest for _, dest in arrows} == set(STATES)
    assert {row["dest"] for row in WITHOUT_LOCK} == {"secured", "lined", "in-use", None}
