"""Blue flags, derails, chocks, gates and clearance points: the published rules, played as tapes.

Parts of 49 CFR are of the 2015 annual edition, read second-hand in a public copy. Part 232 was
amended in December 2020 (85 FR 80544); what is used of it here was not looked up since.
"""

import pytest
from published_tape import JOB, MILL, OPEN, raised, violations

REST = "0 mill.detector made"
LOOSE = "0 mill-chock.rack made"
"""A car stands there without its chock, so that only the flag has something to say."""


def test_49cfr_218_23_a_2_protected_equipment_is_not_moved() -> None:
    """A car leaves the spur's section while the blue flag is displayed.

    Source: 49 CFR 218.23(a)(2), protected equipment may not be moved: 2015 annual edition, read
    second-hand.
    """
    moved = "10 mill.detector open\n15 end"
    assert raised(REST, LOOSE, moved) == [("moved-under-flag", "mill-flag")]
    assert raised(REST, LOOSE, "0 mill-flag.rack made", moved) == []


def test_49cfr_218_23_a_3_nothing_is_placed_on_the_same_track() -> None:
    """A car comes to stand on the spur while the blue flag is displayed.

    Source: 49 CFR 218.23(a)(3), nothing may be put on the track that hides the signal: 2015
    annual edition, read second-hand.
    """
    placed = "10 mill.detector made\n15 end"
    assert raised(placed) == [("moved-under-flag", "mill-flag")]
    assert raised("0 mill-flag.rack made", placed) == []


def test_49cfr_218_23_a_4_equipment_does_not_pass_a_displayed_signal() -> None:
    """A move over points that lie for the spur while its blue flag is displayed.

    Source: 49 CFR 218.23(a)(4), equipment may not pass a displayed blue signal: 2015 annual
    edition, read second-hand.
    """
    displayed = "5 mill-flag.rack open"
    move = "20 mill-switch.detector made\n21 end"
    assert ("moved-under-flag", "mill-flag") in raised(OPEN, displayed, move)
    assert ("moved-under-flag", "mill-flag") not in raised(OPEN, displayed, "21 end")


def test_49cfr_218_23_a_4_a_train_on_the_main_track_does_not_pass_it() -> None:
    """The flag protects the spur: a train straight past its switch breaks nothing.

    Source: 49 CFR 218.23(a)(4), 2015 annual edition, read second-hand.
    """
    assert raised("10 mill-switch.detector made\n20 mill-switch.detector open\n30 end") == []


def test_49cfr_218_23_b_only_the_same_group_removes_its_signal() -> None:
    """The flag comes off before the foreman, whose people it protects, has released the spur.

    Source: 49 CFR 218.23(b), only the same craft or group removes its signal: 2015 annual
    edition, read second-hand. Who lifts the flag is not sensed; the foreman's word stands for it.
    """
    (violation,) = violations("10 mill-flag.rack made\n11 end")
    assert (violation.rule.value, violation.at) == ("out-of-order", "mill-flag")
    assert violation.missing == ("foreman",)
    assert raised("5 ask mill\n6 release mill\n10 mill-flag.rack made\n11 end") == []


def test_49cfr_218_23_b_the_signal_is_shown_before_the_work() -> None:
    """The switch is locked again, and the people at work, before their flag is back.

    Source: 49 CFR 218.23(b), each group shows its own signal before it goes between: 2015 annual
    edition, read second-hand.
    """
    late = JOB.replace("112 mill-flag.rack open\n", "")
    assert late != JOB
    found = violations(late)
    assert [(v.rule.value, v.at) for v in found] == [
        ("out-of-order", "mill-switch"),
        ("not-returned", "mill-flag"),
    ]
    assert found[0].missing == ("mill-flag",)


def test_49cfr_218_27_access_switch_lined_away_and_locked_under_the_signal() -> None:
    """The access switch is unlocked while the blue flag is still displayed.

    Source: 49 CFR 218.27(a)-(b), each manual switch of access lined against the track and locked
    while the signal is shown: 2015 annual edition, read second-hand; the 2004 edition agrees.
    """
    asked = "1 ask mill\n2 release mill\n5 mill-key.hook open"
    (violation,) = violations(asked, "10 mill-switch.hasp open\n11 end")
    assert (violation.rule.value, violation.at) == ("out-of-order", "mill-switch")
    assert violation.missing == ("mill-flag",)
    lawful = "8 mill-flag.rack made\n10 mill-switch.hasp open\n11 end"
    assert raised(asked, lawful) == []


def test_49cfr_218_29_a_protection_restored_after_the_switch_is_cleared() -> None:
    """Protection that was taken away for a move and is not back two minutes after the relocking.

    Source: 49 CFR 218.29(a), restore blue signals immediately after clearing the switch: 2015
    annual edition, read second-hand; the 2007 edition agrees. The two minutes are the layout's own.
    """
    kept_off = JOB.replace("112 mill-flag.rack open\n", "").replace("900 end", "")
    assert ("not-returned", "mill-flag") not in raised(kept_off, "238 end")
    assert ("not-returned", "mill-flag") in raised(kept_off, "238.02 end")
    assert ("not-returned", "mill-flag") not in raised(kept_off, "200 mill-flag.rack open\n900 end")


def test_49cfr_218_109_b_an_idle_derail_is_on() -> None:
    """The switch is locked while the derail is still off, and it stays off.

    Source: 49 CFR 218.109(b), a fixed derail's normal position is derailing whether or not
    equipment stands behind it: 2015 annual edition, read second-hand.
    """
    off = JOB.replace("106 mill-derail.on made\n108 mill-derail.hasp made\n", "")
    found = [(v.rule.value, v.at, v.missing) for v in violations(off)]
    assert ("out-of-order", "mill-switch", ("mill-derail",)) in found
    assert ("not-returned", "mill-derail", ()) in found


def test_49cfr_218_109_b_never_move_over_a_derail_that_derails() -> None:
    """The track at the derail becomes occupied while it is on; off it, a move is lawful.

    Source: 49 CFR 218.109(b), 2015 annual edition, read second-hand.
    """
    move = "20 mill-derail.detector made\n21 end"
    assert raised(move) == [("over-derail", "mill-derail")]
    assert raised(OPEN, move) == []


def test_49cfr_218_109_c_a_derail_is_locked_and_its_lock_holds() -> None:
    """The derail leaves the rail while its padlock is closed; unlocked first it may.

    Source: 49 CFR 218.109(c), lever latched, lock or hook in the hasp, and tested: 2015 annual
    edition, read second-hand.
    """
    forced = "10 mill-derail.on open\n11 end"
    assert ("derail-forced", "mill-derail") in raised(forced)
    assert ("derail-forced", "mill-derail") not in raised("5 mill-derail.hasp open", forced)
    assert ("derail-forced", "mill-derail") not in raised(JOB)


def test_49cfr_232_103_n_a_secured_car_is_not_pulled_away() -> None:
    """A car is pulled off the spur while its chock is still set.

    Source: 49 CFR 232.103(n), unattended equipment is secured by hand, with the air released: 2015
    annual edition, read second-hand. A chock stands for the hand brake on a scale layout.
    """
    pulled = "20 mill.detector open\n25 end"
    assert raised(REST, OPEN, "5 mill-chock.rack open", pulled)[-1] == (
        "pulled-against-chock",
        "mill-chock",
    )
    assert raised(REST, OPEN, pulled) == []


UNCHOCKED = JOB.replace("100 mill-chock.rack open\n", "")


def test_49cfr_232_103_n_standing_cars_are_secured() -> None:
    """A car left standing on a 1 % grade with no chock set, two minutes after the relocking.

    Source: 49 CFR 232.103(n), at least one hand brake and enough to hold: 2015 annual edition,
    read second-hand.
    """
    assert UNCHOCKED != JOB
    assert raised(UNCHOCKED)[-1] == ("left-unchocked", "mill-chock")
    assert "left-unchocked" not in dict(raised(JOB))
    empty = UNCHOCKED.replace("0   mill.detector made\n", "")
    assert raised(empty) == []


@pytest.mark.parametrize(("grade", "raises"), [("0.0", False), ("0.4", False), ("1.0", True)])
def test_common_practice_a_one_per_cent_grade_needs_a_chock(grade: str, raises: bool) -> None:
    """A 1 % grade needs a chock and near-level track does not.

    Source: common practice, no source.
    """
    layout = MILL.replace("grade_percent = 1.0", f"grade_percent = {grade}")
    assert ("left-unchocked" in dict(raised(UNCHOCKED, layout=layout))) is raises


def test_49cfr_218_103_d_not_lined_behind_until_past_the_clearance_point() -> None:
    """The points are thrown back while something stands short of the clearance point.

    Source: 49 CFR 218.103(d), do not line behind until past its clearance point: 2015 annual
    edition, read second-hand.
    """
    foul = "5 mill.fouling made"
    throw = "10 mill-switch.reverse open\n11 mill-switch.normal made\n12 end"
    assert raised(OPEN, foul, throw) == [("lined-behind-early", "mill")]
    assert raised(OPEN, foul, "6 mill.fouling open", throw) == []


def test_49cfr_218_101_b_equipment_is_not_left_fouling() -> None:
    """The crew locks up and goes while something stands short of the clearance point.

    Source: 49 CFR 218.101(b), do not leave equipment fouling a connecting track: 2015 annual
    edition, read second-hand.
    """
    left = JOB.replace("118 ", "116 mill.fouling made\n118 ")
    assert raised(left) == [("left-foul", "mill")]
    assert raised(left.replace("118 ", "117 mill.fouling open\n119.5 ")) == []


def test_common_practice_a_locked_gate_stays_shut() -> None:
    """The gate leaves its place while its padlock is closed; unlocked first it may.

    Source: common practice, no source.
    """
    forced = "10 mill-gate.shut open\n11 end"
    assert raised(forced) == [("gate-forced", "mill-gate")]
    assert raised("0 mill-gate.hasp open", forced) == []


def test_common_practice_a_gate_is_not_locked_open() -> None:
    """The padlock is closed on a gate that is not shut; on a shut one it may be.

    Source: common practice, no source.
    """
    locked = "20 mill-gate.hasp made\n21 end"
    open_gate = "0 mill-gate.hasp open\n0 mill-gate.shut open"
    assert ("gate-locked-open", "mill-gate") in raised(open_gate, locked)
    assert raised("0 mill-gate.hasp open", locked) == []


def test_common_practice_nothing_runs_through_a_shut_gate() -> None:
    """The track through the gate becomes occupied while it is shut; open, it may.

    Source: common practice, no source.
    """
    move = "10 mill-gate.detector made\n11 end"
    assert raised(move) == [("through-gate", "mill-gate")]
    assert raised(OPEN, move) == []


def test_the_layouts_own_order_every_step_out_of_turn_is_named() -> None:
    """Each protection taken off alone names exactly those before it, in their order.

    Source: the layout owner's own order; no published text fixes this one.
    """
    before = ("foreman", "mill-flag", "mill-switch", "mill-derail", "mill-gate")
    (violation,) = violations("10 mill-chock.rack made\n11 end")
    assert (violation.rule.value, violation.at, violation.missing) == (
        "out-of-order",
        "mill-chock",
        before,
    )
