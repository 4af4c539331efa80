"""Hand-operated switches: what the published rules say of them, played as tapes.

Most are United States federal rules of the 2015 annual edition, read second-hand in a public copy
of the regulations; they are the models for a scale layout's rules and nothing here is a claim of
compliance with them.
"""

from published_tape import JOB, OPEN, raised, shown, violations


def test_a_lawful_job_raises_nothing() -> None:
    """The order of unlock, line, use, restore, relock, every protection in its turn.

    Source: the layout owner's own order; no published text fixes this one.
    """
    assert raised(JOB) == []


def test_49cfr_218_103_b_5_points_must_fit() -> None:
    """Points that lie against neither stock rail for longer than a throw takes are reported.

    Source: 49 CFR 218.103(b)(5), see that the points fit: 2015 annual edition, read second-hand;
    a second public copy of January 2025 agrees. The five seconds are the layout's own.
    """
    gapped = "10 mill-switch.reverse open"
    assert raised(OPEN, gapped, "15.01 end") == []
    assert raised(OPEN, gapped, "60 end") == [("gapped-points", "mill-switch")]


def test_49cfr_218_103_b_5_points_that_fit_raise_nothing() -> None:
    """A throw that takes under five seconds, either way.

    Source: 49 CFR 218.103(b)(5), 2015 annual edition, read second-hand.
    """
    throw = "10 mill-switch.reverse open\n14.9 mill-switch.normal made\n30 end"
    assert raised(OPEN, throw) == []


def test_49cfr_218_103_b_5_no_train_enters_points_that_do_not_fit() -> None:
    """Points are seen to fit before anything moves over them.

    Source: 49 CFR 218.103(b)(5), 2015 annual edition, read second-hand.
    """
    tape = "10 mill-switch.reverse open\n12 mill-switch.detector made\n13 end"
    assert raised(OPEN, tape) == [("entered-gapped-points", "mill-switch")]


def test_49cfr_218_103_b_6_secured_before_a_move_over_it_in_either_direction() -> None:
    """A train on points that are held by nothing; over them in either position it is lawful.

    Source: 49 CFR 218.103(b)(6), secure the switch against unintended motion of its points before
    any move over it: 2015 annual edition, read second-hand; a copy of January 2025 agrees.
    """
    between = "10 mill-switch.reverse open"
    move = "12 mill-switch.detector made\n13 end"
    assert raised(OPEN, between, move) == [("entered-gapped-points", "mill-switch")]
    assert raised(OPEN, move) == []
    assert raised(move) == []


def test_49cfr_218_103_b_7_never_throw_under_a_train() -> None:
    """The points leave their place while the section over them is occupied, from either side.

    Source: 49 CFR 218.103(b)(7), never throw a switch with equipment fouling, standing on or
    moving over it: 2015 annual edition, read second-hand; a copy of January 2025 agrees.
    """
    from_reverse = "10 mill-switch.detector made\n20 mill-switch.reverse open\n21 end"
    assert raised(OPEN, from_reverse) == [("thrown-under-train", "mill-switch")]
    from_normal = """
    0  mill-key.hook open
    0  mill-switch.hasp open
    10 mill-switch.detector made
    20 mill-switch.normal open
    21 end
    """
    assert raised(from_normal) == [("thrown-under-train", "mill-switch")]


def test_49cfr_218_103_b_7_thrown_after_the_train_is_lawful() -> None:
    """The same throw with the section clear, and settled so.

    Source: 49 CFR 218.103(b)(7), 2015 annual edition, read second-hand.
    """
    tape = """
    10 mill-switch.detector made
    20 mill-switch.detector open
    23 mill-switch.reverse open
    24 mill-switch.normal made
    30 end
    """
    assert raised(OPEN, tape) == []


def test_detector_locking_an_occupied_section_holds_its_switch() -> None:
    """Not even a crew that has unlocked the switch may move its points under a train.

    Source: detector locking as the signal trade uses the word: from memory; Part 236 does not
    define it, and 49 CFR 218.103(b)(7) is the nearest rule (2015 annual edition, read second-hand).
    """
    tape = """
    0  mill-key.hook open
    0  mill-switch.hasp open
    0  mill-switch.detector made
    10 mill-switch.normal open
    11 mill-switch.reverse made
    12 end
    """
    assert raised(tape) == [("thrown-under-train", "mill-switch")]
    assert raised(tape.replace("mill-switch.detector made", "mill-switch.detector open")) == []


def test_49cfr_218_103_b_8_locked_when_not_in_use() -> None:
    """A padlock left open on a switch that nobody uses.

    Source: 49 CFR 218.103(b)(8), locked, hooked or latched when not in use: 2015 annual edition,
    read second-hand; a copy of January 2025 agrees. The two minutes are the layout's own.
    """
    unlocked = "0 mill-key.hook open\n0 mill-switch.hasp open"
    assert raised(unlocked, "119.9 end") == []
    assert raised(unlocked, "900 end") == [("left-unlocked", "mill-switch")]


def test_49cfr_218_103_b_8_relocked_in_time_raises_nothing() -> None:
    """The same padlock closed within the two minutes.

    Source: 49 CFR 218.103(b)(8), 2015 annual edition, read second-hand.
    """
    unlocked = "0 mill-key.hook open\n0 mill-switch.hasp open"
    assert raised(unlocked, "119 mill-switch.hasp made\n900 end") == []


def test_49cfr_218_103_b_8_a_locked_switch_stays_where_it_is() -> None:
    """Points that move while the padlock is closed: the lock does not hold what it should.

    Source: 49 CFR 218.103(b)(8), 2015 annual edition, read second-hand.
    """
    assert raised("10 mill-switch.normal open\n11 end") == [("moved-while-locked", "mill-switch")]


def test_49cfr_236_6_cannot_be_locked_with_the_points_open() -> None:
    """The hasp is locked on points that lie reverse, or between: either way an error.

    Source: 49 CFR 236.6, a facing-point lock must not lock with the points open by 1/4 inch facing
    or 3/8 inch trailing: 2015 annual edition, read second-hand. Inches are not sensed here.
    """
    relocked = "20 mill-switch.hasp made\n21 end"
    assert ("locked-off-normal", "mill-switch") in raised(OPEN, relocked)
    between = "10 mill-switch.reverse open"
    assert ("locked-off-normal", "mill-switch") in raised(OPEN, between, relocked)
    assert ("locked-off-normal", "mill-switch") not in raised(JOB)


def test_49cfr_236_6_points_that_open_under_a_closed_lock() -> None:
    """A circuit controller tells of points that open under the lock; here a rule does.

    Source: 49 CFR 236.6, 2015 annual edition, read second-hand.
    """
    tape = "10 mill-switch.normal open\n11 mill-switch.normal made\n12 end"
    assert raised(tape) == [("moved-while-locked", "mill-switch")]
    unlocked = "0 mill-key.hook open\n0 mill-switch.hasp open"
    assert raised(unlocked, tape) == []


def test_49cfr_218_105_b_main_switch_lined_normal_when_not_in_use() -> None:
    """Left lined for the spur with nobody about.

    Source: 49 CFR 218.105(b), lined and locked normal when not in use: 2015 annual edition, read
    second-hand; a copy of January 2025 agrees. The ten minutes are the layout's own.
    """
    assert raised(OPEN, "599.9 end") == []
    assert raised(OPEN, "2000 end") == [("left-lined", "mill-switch")]


def test_49cfr_218_105_b_a_switch_in_use_is_not_left() -> None:
    """Moves over it, or its crew's own word, show that it is still in somebody's charge.

    Source: 49 CFR 218.105(b), the switch may be left in charge of a crew member: 2015 annual
    edition, read second-hand.
    """
    move = "500 mill-switch.detector made\n510 mill-switch.detector open"
    assert raised(OPEN, move, "1111 end") == []
    assert raised(OPEN, "500 work-done mill\n1099 end") == []


def test_49cfr_218_105_b_locked_normal_and_nothing_else() -> None:
    """Locked for the spur is not locked normal, and normal is not locked.

    Source: 49 CFR 218.105(b), 2015 annual edition, read second-hand.
    """
    assert ("locked-off-normal", "mill-switch") in raised(OPEN, "5 mill-switch.hasp made\n6 end")
    restored = "5 mill-switch.reverse open\n6 mill-switch.normal made"
    assert raised(OPEN, restored, "120 end") == []
    assert raised(OPEN, restored, "130 end") == [("left-unlocked", "mill-switch")]


def test_gcor_8_2_main_target_red_when_not_normal() -> None:
    """The target's red is lit exactly when the switch is not normal and locked.

    Source: GCOR 8.2 and 8.3, a railroads' code of an older edition, read second-hand in an
    archived copy: a main track switch's target shows red when it is not normal.
    """
    thrown, rest = JOB.split("22 ")[0], "22 end"
    assert shown(thrown.split("15 ")[0]).get("mill-switch.red", "off") == "off"
    assert shown(thrown, rest)["mill-switch.red"] == "steady"
    done = shown(JOB)
    assert done["mill-switch.red"] == "off"
    assert done["mill-switch.green"] == "steady"


def test_trapped_key_on_its_hook_cannot_have_opened_a_lock() -> None:
    """A padlock opens while its only key hangs on the board: a second key, or a forced lock.

    Source: the trapped-key principle, a key is in one place at a time and a duplicate voids the
    argument: read second-hand in a machinery safety page, and from memory.
    """
    assert ("key-on-hook", "mill-switch") in raised("10 mill-switch.hasp open\n11 end")
    assert ("key-on-hook", "mill-gate") in raised("10 mill-gate.hasp open\n11 end")


def test_trapped_key_taken_first_raises_nothing() -> None:
    """The key leaves its hook before the padlock opens.

    Source: the trapped-key principle, read second-hand, and from memory.
    """
    tape = "10 mill-key.hook open\n11 mill-switch.hasp open\n12 mill-gate.hasp open\n13 end"
    assert {v.rule.value for v in violations(tape)} == {"out-of-order"}
