"""Every rule, stage, role and command has words, and every rule its published source.

The sections are those that the public text of 49 CFR (parts 218, 232 and 236) has; rules
without one say "common practice" or name the layout's own order.
"""

from __future__ import annotations

import pytest

from firmware_py.core.names import Command, Fault, Phase, Rule, Stage
from firmware_py.layout.model import (
    Chock,
    Contact,
    Derail,
    Flag,
    ForemanKind,
    Gate,
    HeaderPin,
    Kind,
    Lock,
    Role,
    Spur,
    Switch,
)
from web.live.board import Work
from web.live.faults import fault_title
from web.live.reasons import REASONS, reason_for
from web.live.rows import STAGES, stage_says
from web.live.senses import contact_says, sense
from web.live.steps import COMMANDS, fitting_commands, next_step

SOURCES = {
    Rule.MOVED_WHILE_LOCKED: {"49 CFR 236.6", "49 CFR 218.103(b)(8)"},
    Rule.THROWN_UNDER_TRAIN: {"49 CFR 218.103(b)(7)", "Detector locking (trade term)"},
    Rule.LOCKED_OFF_NORMAL: {"49 CFR 218.105(b)", "49 CFR 236.6"},
    Rule.GAPPED_POINTS: {"49 CFR 218.103(b)(5)"},
    Rule.ENTERED_GAPPED_POINTS: {"49 CFR 218.103(b)(5)", "49 CFR 218.103(b)(6)"},
    Rule.LEFT_LINED: {"49 CFR 218.105(b)"},
    Rule.LEFT_UNLOCKED: {"49 CFR 218.103(b)(8)", "49 CFR 218.105(b)"},
    Rule.KEY_ON_HOOK: {"Trapped-key principle (trade explanation)"},
    Rule.OUT_OF_ORDER: {
        "This layout's own order",
        "49 CFR 218.23(b)",
        "49 CFR 218.27(a)-(b)",
        "49 CFR 218.109(b)",
    },
    Rule.MOVED_UNDER_FLAG: {
        "49 CFR 218.23(a)(2)",
        "49 CFR 218.23(a)(3)",
        "49 CFR 218.23(a)(4)",
    },
    Rule.GATE_FORCED: {"Common practice"},
    Rule.GATE_LOCKED_OPEN: {"Common practice"},
    Rule.THROUGH_GATE: {"Common practice"},
    Rule.DERAIL_FORCED: {"49 CFR 218.109(c)"},
    Rule.OVER_DERAIL: {"49 CFR 218.109(b)"},
    Rule.PULLED_AGAINST_CHOCK: {"49 CFR 232.103(n)(1)-(2)"},
    Rule.LINED_BEHIND_EARLY: {"49 CFR 218.103(d)"},
    Rule.LEFT_FOUL: {"49 CFR 218.101(b)"},
    Rule.NOT_RETURNED: {"49 CFR 218.29(a)", "49 CFR 218.109(b)"},
    Rule.LEFT_UNCHOCKED: {"49 CFR 232.103(n)(1)-(2)", "Common practice"},
    Rule.OVER_SPEED: {"This layout's own limit", "49 CFR 236.812"},
    Rule.MOVED_IN_BRAKE_TEST: {"49 CFR 232.205(c)(1)", "49 CFR 232.215"},
}


@pytest.mark.parametrize("rule", list(Rule))
def test_every_rule_has_its_words_and_its_published_sources(rule: Rule) -> None:
    reason = REASONS[rule.value]
    assert {source.name for source in reason.sources} == SOURCES[rule]
    assert all(source.says for source in reason.sources)
    said = reason.happened.format(at="HERE", spur="THERE", missing="THAT")
    assert "HERE" in said or "THERE" in said
    assert "{" not in said
    assert reason.means
    assert reason.why


def test_no_rule_is_told_of_that_the_core_does_not_have() -> None:
    assert set(REASONS) == {rule.value for rule in Rule}


def test_a_rule_from_a_newer_engine_is_named_all_the_same() -> None:
    assert reason_for("left-whistling").title == "Left whistling"


def test_every_stage_fault_and_command_has_words() -> None:
    assert set(STAGES) == {stage.value for stage in Stage} - {"irregular"}
    assert set(COMMANDS) == {command.value for command in Command} - {"acknowledge"}
    assert all(fault_title(fault)[0].isupper() for fault in Fault)
    assert stage_says("irregular", Lock.PADLOCK) != stage_says("secured", Lock.PADLOCK)
    assert "lock" not in stage_says("secured", Lock.NONE).lower()


@pytest.mark.parametrize("role", list(Role))
@pytest.mark.parametrize("kind", [Kind.FLAG, Kind.CHOCK])
def test_made_open_and_unknown_are_told_apart_for_every_role(role: Role, kind: Kind) -> None:
    made, broken, unknown = (contact_says(role, kind, value) for value in (True, False, None))
    assert len({made, broken, unknown}) == 3
    assert "unsafe" in unknown


def contact(thing: str, role: Role) -> Contact:
    return Contact(thing, role, HeaderPin(5), 20_000, 20_000)


FLAG = Flag("f", "West flag", "kiln", contact("f", Role.RACK))
CHOCK = Chock("c", "Kiln chock", "kiln", contact("c", Role.RACK))
GATE = Gate("g", "Kiln gate", "kiln", None, contact("g", Role.HASP), contact("g", Role.SHUT))
PLAIN_GATE = Gate("g", "Kiln gate", "kiln", None, None, contact("g", Role.SHUT))
DERAIL = Derail("d", "Kiln derail", "kiln", contact("d", Role.HASP), contact("d", Role.ON))


@pytest.mark.parametrize(
    ("thing", "settled", "state", "says"),
    [
        (FLAG, {"f.rack": False}, "on", "displayed"),
        (FLAG, {"f.rack": True}, "off", "in its rack"),
        (FLAG, {"f.rack": None}, "unknown", "unknown"),
        (FLAG, {}, "unknown", "unknown"),
        (CHOCK, {"c.rack": False}, "on", "set"),
        (GATE, {"g.shut": True, "g.hasp": True}, "on", "shut, locked"),
        (GATE, {"g.shut": True, "g.hasp": False}, "on", "shut, not locked"),
        (GATE, {"g.shut": False, "g.hasp": False}, "off", "open"),
        (GATE, {"g.shut": False, "g.hasp": True}, "off", "locked while open"),
        (GATE, {"g.shut": True, "g.hasp": None}, "unknown", "unknown"),
        (PLAIN_GATE, {"g.shut": True}, "on", "shut"),
        (DERAIL, {"d.on": False, "d.hasp": False}, "off", "off"),
        (DERAIL, {"d.on": True, "d.hasp": True}, "on", "on, locked"),
    ],
)
def test_a_protection_is_told_by_its_own_contacts(
    thing: Flag, settled: dict[str, bool | None], state: str, says: str
) -> None:
    assert sense(thing, settled) == (state, says)


def spur(foreman: ForemanKind = ForemanKind.HOST) -> Spur:
    return Spur("kiln", "Kiln", "kiln-switch", foreman, (0, 0), ("kiln-switch",), ("kiln-switch",))


def switch(lock: Lock = Lock.PADLOCK) -> Switch:
    hasp = contact("kiln-switch", Role.HASP) if lock is Lock.PADLOCK else None
    points = contact("kiln-switch", Role.NORMAL), contact("kiln-switch", Role.REVERSE)
    return Switch("kiln-switch", "Kiln switch", lock, None, hasp, *points)


OPENING, CLOSING, WORKING = Phase.OPENING.value, Phase.CLOSING.value, Phase.WORKING.value


@pytest.mark.parametrize(
    ("phase", "step", "thing", "stage", "says"),
    [
        ("idle", None, None, "secured", ""),
        (OPENING, "f", FLAG, "secured", "Take down the West flag"),
        (CLOSING, "f", FLAG, "restored", "Put up the West flag"),
        (OPENING, "kiln-switch", switch(), "secured", "Unlock the switch and line it"),
        (OPENING, "kiln-switch", switch(), "unlocked", "Line the switch for the spur"),
        (OPENING, "kiln-switch", switch(), "irregular", "Unlock the switch and look at it"),
        (OPENING, "s", switch(Lock.NONE), "secured", "Line the switch for the spur"),
        (CLOSING, "s", switch(), "in-use", "Line the switch for the main and lock it"),
        (CLOSING, "s", switch(), "restored", "Lock the switch"),
        (CLOSING, "s", switch(), "irregular", "Unlock the switch and put it right"),
        (CLOSING, "s", switch(Lock.NONE), "lined", "Line the switch for the main"),
        (OPENING, "g", GATE, "lined", "Unlock and open the gate"),
        (OPENING, "g", PLAIN_GATE, "lined", "Open the gate"),
        (CLOSING, "g", GATE, "lined", "Shut and lock the gate"),
        (OPENING, "d", DERAIL, "lined", "Take the derail off the rail"),
        (CLOSING, "d", DERAIL, "lined", "Put the derail back on the rail and lock it"),
        (OPENING, "c", CHOCK, "lined", "Hang the chock in its rack"),
        (CLOSING, "c", CHOCK, "lined", "Set the chock against a wheel"),
        (OPENING, "work", None, "lined", "Go in and work the spur"),
        (WORKING, "work", None, "in-use", "Work the spur"),
        (CLOSING, "foreman", None, "restored", "Hand the spur back to the foreman"),
        (OPENING, "foreman", None, "secured", "Ask the foreman for the spur"),
    ],
)
def test_the_next_step_is_told_in_plain_words(
    phase: str, step: str | None, thing: Switch | None, stage: str, says: str
) -> None:
    assert next_step(Work(phase=phase, next=step), spur(), thing, stage) == says


def test_who_is_waited_for_depends_on_the_foreman() -> None:
    asked = Work(phase=OPENING, next="foreman", foreman="asked")
    assert next_step(asked, spur(), None, "secured") == "Foreman: answer the crew"
    auto = spur(ForemanKind.AUTO)
    assert next_step(asked, auto, None, "secured") == "Wait for the foreman's answer"
    held = Work(phase=OPENING, next="foreman", foreman="held")
    assert next_step(held, spur(), None, "secured") == "Wait: the foreman said not yet"


def test_the_hosts_buttons_are_there_when_they_make_sense() -> None:
    def commands(
        foreman: str, phase: str = OPENING, kind: ForemanKind = ForemanKind.HOST
    ) -> object:
        return fitting_commands(Work(phase=phase, next="foreman", foreman=foreman), spur(kind))

    assert commands("asked") == ("release", "hold")
    assert commands("held") == ("release",)
    assert commands("not-asked") == ()
    assert commands("released", CLOSING) == ("hand-back",)
    assert commands("released", OPENING) == ()
    assert commands("asked", OPENING, ForemanKind.NONE) == ()
    assert commands("asked", OPENING, ForemanKind.AUTO) == ()
    assert fitting_commands(Work(), None) == ()
