"""Unknown means unsafe, and what lamps mean: the published principles, played as tapes.

Part 236 is quoted from the 2015 annual edition, read second-hand in a public copy.
"""

from collections.abc import Callable
from types import SimpleNamespace

import pytest
from published_tape import JOB, MILL, OPEN, play, raised, shown

from firmware_py.core.entries import FaultEntry, StageEntry
from firmware_py.core.names import Shows
from firmware_py.layout.model import Contact, Role
from firmware_py.layout.reading import parse_layout
from firmware_py.pins.drives import SAFE, Drive, Output
from firmware_py.pins.flasher import Flasher, Rate

CONTACTS = parse_layout(MILL, "layout").contacts
SWITCH_CONTACTS = [c for c in CONTACTS if c.thing == "mill-switch" and c.role is not Role.DETECTOR]


@pytest.mark.parametrize("contact", SWITCH_CONTACTS, ids=lambda c: str(c.role))
def test_49cfr_236_5_loss_of_a_circuit_gives_the_most_restrictive_state(contact: Contact) -> None:
    """A switch stand with a dead circuit: red, no green, bolt shut, and nobody is blamed.

    Source: 49 CFR 236.5 with 236.786, the closed-circuit principle: 2015 annual edition, read
    second-hand.
    """
    lost = f"10 {contact.name} unknown\n11 end"
    after = shown(lost)
    assert after["mill-switch.red"] == "steady"
    assert after["mill-switch.green"] == "off"
    assert after.get("mill-switch.bolt", "shut") == "shut"
    assert raised(lost) == []


def test_49cfr_236_5_an_open_circuit_never_reads_as_secured() -> None:
    """A broken wire opens a contact; for a switch that is never the way to ``secured``.

    Source: 49 CFR 236.5 with 236.786, 2015 annual edition, read second-hand.
    """
    for role in ("hasp", "normal"):
        stages = [
            e for e in play(f"9 mill-switch.{role} open\n10 end") if isinstance(e, StageEntry)
        ]
        assert stages
        assert all(entry.stage.value != "secured" for entry in stages)


@pytest.mark.parametrize("contact", CONTACTS, ids=lambda c: c.name)
def test_49cfr_236_5_every_lost_circuit_is_told_and_ends(contact: Contact) -> None:
    """Whichever circuit dies, its loss is told at once and again when it answers.

    Source: 49 CFR 236.5 with 236.786, 2015 annual edition, read second-hand.
    """
    at_rest = "made" if contact.role.value in ("hasp", "normal", "shut", "on", "hook") else "open"
    tape = f"10 {contact.name} unknown\n20 {contact.name} {at_rest}\n30 end"
    faults = [e for e in play(tape) if isinstance(e, FaultEntry)]
    assert [(f.fault.value, f.at, f.ended) for f in faults] == [
        ("lost", contact.name, False),
        ("lost", contact.name, True),
    ]
    assert raised(tape) == []


def test_49cfr_236_813a_unknown_counts_as_occupied() -> None:
    """A detector that does not answer is never clear: a racked chock is then not "back".

    Source: 49 CFR 236.813a, the most restrictive state is that of a dropped track relay: 2015
    annual edition, read second-hand.
    """
    closing = "0 mill-chock.rack made\n10 ask mill\n20 work-done mill\n21 end"
    steps = [getattr(e, "next_step", "") for e in play(closing)]
    assert "mill-chock" not in steps
    unknown = [getattr(e, "next_step", "") for e in play("0 mill.detector unknown", closing)]
    assert "mill-chock" in unknown


def test_49cfr_236_813a_an_unknown_section_is_never_left() -> None:
    """What is not known to be clear is not an unattended switch either: no rule guesses.

    Source: 49 CFR 236.813a, 2015 annual edition, read second-hand.
    """
    assert raised(OPEN, "10 mill-switch.detector unknown\n2000 end") == []
    assert raised(OPEN, "2000 end") == [("left-lined", "mill-switch")]


def test_appendix_c_permissive_only_while_every_condition_is_verified() -> None:
    """The spur's power goes off when a condition can no longer be verified.

    Source: 49 CFR Part 236 Appendix C(b)(2)-(3), closed loop: read second-hand in a public copy
    of the regulations, edition not stated there.
    """
    opened = "0 ask mill\n0 release mill\n1 mill-switch.reverse made\n"
    start = OPEN.replace("0   mill-switch.reverse made\n", "").replace(
        "0   ask mill\n0   release mill\n", opened
    )
    assert shown(start, "5 end")["mill.power"] == "on"
    for contact in ("mill-switch.hasp", "mill-switch.reverse", "mill-gate.shut", "mill-flag.rack"):
        assert shown(start, f"6 {contact} unknown\n7 end")["mill.power"] == "off", contact


def test_appendix_c_permission_comes_back_with_proof() -> None:
    """Power is on again once the contact has answered and settled, and not before.

    Source: 49 CFR Part 236 Appendix C(b)(2)-(3), read second-hand in a public copy.
    """
    lost = "0 mill-gate.shut unknown"
    start = OPEN.replace("0   mill-gate.shut open", lost)
    assert shown(start, "7 end").get("mill.power", "off") == "off"
    assert shown(start, "7 mill-gate.shut open\n7.01 end").get("mill.power", "off") == "off"
    assert shown(start, "7 mill-gate.shut open\n8 end")["mill.power"] == "on"


@pytest.mark.parametrize(("layout_seconds", "away", "raises"), [
    ("2.0", 1.9, True),
    ("5.0", 4.9, True),
    ("5.0", 5.1, False),
])  # fmt: skip
def test_49cfr_236_309_a_short_loss_of_shunt_releases_nothing(
    layout_seconds: str, away: float, raises: bool
) -> None:
    """A detector that blinks for less than its time still holds the switch.

    Source: 49 CFR 236.309, a loss of shunt of five seconds or less must not release a route: 2015
    annual edition, read second-hand. It is written for power switches; a layout's default is two
    seconds, and it may ask for the five.
    """
    layout = MILL + f"[times]\nclear_after = {layout_seconds}\n"
    tape = "5 mill-switch.detector made\n10 mill-switch.detector open\n"
    thrown = f"{10 + away} mill-switch.reverse open\n{10 + away + 0.1} end"
    assert (("thrown-under-train", "mill-switch") in raised(OPEN, tape, thrown, layout=layout)) is (
        raises
    )


def test_iec_60073_red_is_danger_and_green_is_normal() -> None:
    """Green is lit for a secured switch alone, red for every other stage, never both.

    Source: IEC 60073 and IEC 60204-1, red danger and green normal: from secondary pages, read
    second-hand, and from memory.
    """
    for cut in ("18 ", "22 ", "40 ", "60 ", "100 ", "114 ", "118 "):
        part = JOB.split(f"\n{cut}")[0]
        after = shown(part, f"{float(cut) - 0.5} end")
        assert (after["mill-switch.red"], after["mill-switch.green"]) == ("steady", "off"), cut
    after = shown(JOB)
    assert (after["mill-switch.red"], after["mill-switch.green"]) == ("off", "steady")


def test_iec_60073_white_is_neutral_and_leads_the_crew() -> None:
    """White flashes while the next step is at the switch, and is steady once the spur is open.

    Source: IEC 60073, white has no special meaning: from secondary pages, read second-hand, and
    from memory.
    """
    ready = JOB.split("\n15 ")[0]
    assert shown(ready, "14 end")["mill-switch.white"] == "flashing"
    assert shown(JOB.split("\n40 ")[0], "39 end")["mill-switch.white"] == "steady"
    assert shown(JOB)["mill-switch.white"] == "off"


def test_iec_60073_blue_asks_for_an_action() -> None:
    """The blue flag's lamp is steady while the flag is displayed, flashing while it is next.

    Source: IEC 60073, blue asks for an action: from secondary pages, read second-hand, and from
    memory.
    """
    released = JOB.split("\n10 ")[0]
    assert shown(released, "9 end")["mill-flag.lamp"] == "flashing"
    assert shown(JOB.split("\n12 ")[0], "11 end")["mill-flag.lamp"] == "off"
    assert shown(JOB)["mill-flag.lamp"] == "steady"


def test_iec_60073_a_violation_flashes_red_until_it_is_acknowledged() -> None:
    """Flashing asks for attention at once; acknowledged, the lamp says only how things stand.

    Source: IEC 60073, flashing is the more urgent: from secondary pages, read second-hand, and
    from memory.
    """
    tape = "10 mill-gate.detector made"
    assert shown(tape, "11 end")["mill-switch.red"] == "flashing"
    assert shown(tape, "11 acknowledge 1\n12 end")["mill-switch.red"] == "off"


def hertz(rate: Rate) -> float:
    """Flashes in a second; a ``Rate`` is half a period in nanoseconds."""
    return 1e9 / (2 * rate.value)


def test_iec_60073_flash_rates_lie_in_the_two_bands() -> None:
    """0.4 to 0.8 flashes a second for a next step, 1.4 to 2.8 for a violation.

    Source: IEC 60073's two bands: read second-hand in weak secondary pages, and from memory.
    """
    assert 0.4 <= hertz(Rate.SLOW) <= 0.8
    assert 1.4 <= hertz(Rate.FAST) <= 2.8


def test_wcag_fewer_than_three_flashes_in_a_second() -> None:
    """No lamp flashes at a rate that could hurt someone with photosensitive epilepsy.

    Source: the web accessibility guidelines' limit of three flashes a second: from memory.
    """
    assert max(hertz(rate) for rate in Rate) < 3.0


class _Wire:
    """A wire that goes nowhere."""

    pin = SimpleNamespace(state=0.0)
    active_high = True
    close: Callable[[], None] = staticmethod(lambda: None)


class _RateOnly(Flasher):
    """Notes the rate that a lamp asks for instead of flashing it."""

    def __init__(self) -> None:
        super().__init__()
        self.rates: list[Rate] = []

    def add(self, lamp: object, rate: Rate) -> None:
        self.rates.append(rate)


@pytest.mark.parametrize(
    ("output", "rate"),
    [(Output.RED, Rate.FAST), (Output.WHITE, Rate.SLOW), (Output.LAMP, Rate.SLOW)],
)
def test_iec_60073_the_fast_band_is_for_the_violation(output: Output, rate: Rate) -> None:
    """Red, which flashes for violations alone, takes the fast band; next steps take the slow one.

    Source: IEC 60073, the faster rate has the higher priority: read second-hand in weak
    secondary pages, and from memory.
    """
    flasher = _RateOnly()
    Drive("mill-switch.lamp", output, _Wire(), flasher).show(Shows.FLASHING)
    assert flasher.rates == [rate]


def test_49cfr_236_5_what_shows_when_nobody_leads() -> None:
    """With the engine stopped: red lit, green dark, bolt shut, power off.

    Source: 49 CFR 236.5 with 236.786, 2015 annual edition, read second-hand.
    """
    assert SAFE[Output.RED] is Shows.STEADY
    assert SAFE[Output.GREEN] is Shows.OFF
    assert SAFE[Output.BOLT] is Shows.SHUT
    assert SAFE[Output.POWER] is Shows.OFF
