"""The demo's crews know the rules: honest jobs break none, and each slip breaks its own.

The jobs are played through the core at once, their pauses being its time.
"""

from __future__ import annotations

from importlib.resources import files
from random import Random

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from firmware_py.core.core import Core
from firmware_py.core.entries import Entry, Refused, StageEntry, Violation
from firmware_py.core.names import Command, Phase, Rule, Stage
from firmware_py.core.orders import Order
from firmware_py.demo.job import AwaitBrakes, AwaitRelease, Job, Pause, Say, Slip, Touch, Train
from firmware_py.layout.model import MADE_AT_REST, ForemanKind, Lock, Spur
from firmware_py.layout.reading import parse_layout

FILE = files("firmware_py.demo") / "layouts" / "wendlebeck.toml"
LAYOUT = parse_layout(FILE.read_text("utf-8"), "wendlebeck.toml")
SPURS = {spur.id: spur for spur in LAYOUT.spurs}
SEEDS = range(25)
LONGEST_TEST_US = 21_000_000
"""Four cars at 6:1, by the brake test's arithmetic in rulebook section 11."""
HURRIES = [1.0, 8.0]
"""Paces at which an honest crew is still an honest crew."""


class Shift:
    """One job after another on one core."""

    def __init__(self, pace: float = 1.0) -> None:
        self._pace = pace
        self.core = Core(LAYOUT)
        self.entries: list[Entry] = []
        self.t_us = 1_000_000

    def work(self, spur: str, seed: int, slip: Slip | None = None) -> None:
        job = Job(LAYOUT, SPURS[spur], Random(seed), slip)
        for move in job.moves():
            match move:
                case Pause():
                    self.t_us += round(move.seconds / self._pace * 1_000_000)
                case Train():
                    self.t_us += round(move.seconds * 1_000_000)
                case AwaitBrakes():
                    self.t_us += LONGEST_TEST_US
                case Touch():
                    self.entries += self.core.reading(self.t_us, move.contact, move.made)
                case Say():
                    self._say(Order(move.command, spur, None, move.cars))
                case AwaitRelease():
                    self.t_us += 5_000_000
                    self._say(Order(Command.RELEASE, spur))
        self.t_us += 30_000_000
        self.entries += self.core.advance(self.t_us)

    def _say(self, order: Order) -> None:
        self.entries += self.core.order(self.t_us, order)

    @property
    def rules(self) -> list[Rule]:
        return [entry.rule for entry in self.entries if isinstance(entry, Violation)]


@pytest.mark.parametrize("pace", HURRIES)
@pytest.mark.parametrize("spur", SPURS)
def test_an_honest_job_breaks_no_rule_and_ends_at_rest(spur: str, pace: float) -> None:
    for seed in SEEDS:
        shift = Shift(pace)
        shift.work(spur, seed)
        assert shift.rules == [], seed
        assert not [entry for entry in shift.entries if isinstance(entry, Refused)], seed
        assert shift.core.phases()[spur] == (Phase.IDLE, None), seed
        stands = shift.core.settled()
        off = [
            contact.name
            for contact in LAYOUT.contacts
            if stands[contact.name] is not (contact.role in MADE_AT_REST)
        ]
        assert set(off) <= {f"{spur}.detector", "creamery-chock.rack"}, seed


@pytest.mark.parametrize("spur", SPURS)
def test_an_honest_job_goes_through_all_stages_in_order(spur: str) -> None:
    shift = Shift()
    shift.work(spur, 3)
    switch = SPURS[spur].switch
    stages = [e.stage for e in shift.entries if isinstance(e, StageEntry) and e.switch == switch]
    locked = next(s for s in LAYOUT.switches if s.id == switch).lock is Lock.PADLOCK
    whole = [Stage.UNLOCKED, Stage.LINED, Stage.IN_USE, Stage.RESTORED, Stage.SECURED]
    assert stages == (whole if locked else [Stage.LINED, Stage.IN_USE, Stage.SECURED])


EXPECTED = {
    Slip.FLAG_LEFT_UP: Rule.MOVED_UNDER_FLAG,
    Slip.KEY_LEFT: Rule.KEY_ON_HOOK,
    Slip.NOT_ASKED: Rule.OUT_OF_ORDER,
    Slip.THROWN_EARLY: Rule.THROWN_UNDER_TRAIN,
    Slip.LOCKED_FIRST: Rule.OUT_OF_ORDER,
    Slip.TOO_FAST: Rule.OVER_SPEED,
}


def can_slip(spur: Spur, slip: Slip) -> bool:
    """Whether there is anything at this spur to slip over."""
    switch = next(one for one in LAYOUT.switches if one.id == spur.switch)
    match slip:
        case Slip.FLAG_LEFT_UP:
            return any(flag.spur == spur.id for flag in LAYOUT.flags)
        case Slip.KEY_LEFT:
            return switch.key is not None
        case Slip.NOT_ASKED:
            return spur.foreman is not ForemanKind.NONE
        case Slip.THROWN_EARLY:
            return switch.detector is not None
        case Slip.LOCKED_FIRST:
            return len(spur.closing) > 1
        case Slip.TOO_FAST:
            return spur.id == "creamery"


@pytest.mark.parametrize("slip", Slip)
@pytest.mark.parametrize("spur", SPURS)
def test_each_slip_breaks_its_own_rule_where_it_can(spur: str, slip: Slip) -> None:
    shift = Shift()
    shift.work(spur, 7, slip)
    assert (EXPECTED[slip] in shift.rules) == can_slip(SPURS[spur], slip)


@settings(max_examples=30, deadline=None)
@given(
    st.lists(
        st.tuples(
            st.sampled_from(sorted(SPURS)),
            st.integers(0, 999),
            st.sampled_from([None, None, *Slip]),
        ),
        max_size=8,
    )
)
def test_a_shift_of_jobs_never_gets_stuck(jobs: list[tuple[str, int, Slip | None]]) -> None:
    """After any slip the next crew finds a spur that it can work."""
    shift = Shift()
    for spur, seed, slip in jobs:
        shift.work(spur, seed, slip)
    for spur in SPURS:
        before = len(shift.entries)
        shift.work(spur, 1)
        later = [entry for entry in shift.entries[before:] if isinstance(entry, StageEntry)]
        assert later[-1].stage is Stage.SECURED


@pytest.mark.parametrize("spur", SPURS)
def test_every_contact_a_job_touches_is_the_layouts(spur: str) -> None:
    names = {contact.name for contact in LAYOUT.contacts}
    for slip in (None, *Slip):
        moves = Job(LAYOUT, SPURS[spur], Random(2), slip).moves()
        assert {move.contact for move in moves if isinstance(move, Touch)} <= names


def test_the_demo_shows_one_of_each() -> None:
    """A graded spur with a chock, a gated one with a key, a derail, two flags, and no lock."""
    assert len(LAYOUT.spurs) >= 4
    graded = {spur.id for spur in LAYOUT.spurs if spur.grade_percent >= LAYOUT.chock_from_percent}
    assert graded & {chock.spur for chock in LAYOUT.chocks}
    assert any(gate.key is not None for gate in LAYOUT.gates)
    assert LAYOUT.derails
    flags = [flag.spur for flag in LAYOUT.flags]
    assert max(flags.count(spur) for spur in flags) >= 2
    assert any(switch.lock is Lock.NONE for switch in LAYOUT.switches)
