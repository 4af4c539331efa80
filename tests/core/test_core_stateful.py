"""The core under anything at all: what must hold after every step, whatever comes in.

One machine drives a core with sense and nonsense and lets a watchman check it after every step.
The other gives the same input to cores that are told the time in other pieces, or are told the
same readings twice, and wants the same entries of them.
"""

from __future__ import annotations

from collections.abc import Sequence
from random import Random

from core_bench import SECOND, random_layout, rich_layout
from core_watch import Watchman, orderly
from hypothesis import HealthCheck, settings
from hypothesis import strategies as st
from hypothesis.stateful import RuleBasedStateMachine, initialize, rule

from firmware_py.core.core import Core
from firmware_py.core.entries import Entry, Refused
from firmware_py.core.names import Command
from firmware_py.core.orders import Order
from firmware_py.layout.model import Contact, Role

Standing = dict[str, bool | None]
Act = tuple[str, bool | None] | Order | None
"""A reading, an order, or (``None``) nothing but the time."""

# Every second machine or so runs on the rich layout; the others each on one of their own.
LAYOUTS = st.one_of(st.none(), st.integers(0, 300))
PICKS = st.integers(0, 999)
READINGS = st.sampled_from([True, False, True, False, True, False, None])
WAITS = st.sampled_from(
    [0, 1, 999, 20_000, 500_000, SECOND, 2 * SECOND, 3 * SECOND, 5 * SECOND, 15 * SECOND,
     20 * SECOND, 60 * SECOND, 60 * SECOND + 1, 1300 * SECOND]
)  # fmt: skip
SPUR_COMMANDS = [command for command in Command if command is not Command.ACKNOWLEDGE]

SETTINGS = settings(
    max_examples=80,
    stateful_step_count=40,
    deadline=None,
    print_blob=True,
    suppress_health_check=list(HealthCheck),
)


class CoreMachine(RuleBasedStateMachine):
    """Any input to one core, and the watchman after every step."""

    @initialize(
        seed=LAYOUTS,
        standing=st.lists(st.tuples(PICKS, READINGS), max_size=6),
        dice=st.integers(0, 2**32),
    )
    def begin(self, seed: int | None, standing: list[tuple[int, bool | None]], dice: int) -> None:
        self.dice = Random(dice)
        self.layout = rich_layout() if seed is None else random_layout(seed)
        contacts = self.layout.contacts
        self.standing = {contacts[pick % len(contacts)].name: made for pick, made in standing}
        self.now_us = 0
        self.acts: list[tuple[int, Act]] = []
        self.entries: list[Entry] = []
        with orderly():
            self.core = Core(self.layout, self.standing)
        self.watch = Watchman(self.layout, self.core)
        self.watch.check()
        self.begin_others()

    def begin_others(self) -> None:
        """Other cores to compare this one with; here there are none."""

    # One step.

    def feed(self, act: Act) -> Sequence[Entry]:
        """Give the core an input now, and check it."""
        self.acts.append((self.now_us, act))
        entries = give(self.core, self.now_us, act)
        self.entries += entries
        self.watch.hear(entries)
        acknowledges = isinstance(act, Order) and act.command is Command.ACKNOWLEDGE
        if isinstance(act, Order) and acknowledges and not entries_refuse(entries):
            self.watch.acknowledged(act.violation or 0)
        self.watch.check()
        return entries

    def wait(self, us: int) -> None:
        """Let time pass; nothing that was due by then is left over."""
        self.now_us += us
        self.feed(None)
        deadline = self.core.deadline_us
        assert deadline is None or deadline > self.now_us

    def settle(self, contact: Contact, made: bool | None) -> None:
        """An edge, and time for it to settle."""
        self.feed((contact.name, made))
        self.wait(contact.settle_us if made else contact.clear_us)

    def contact(self, pick: int) -> Contact:
        """Any contact of the layout."""
        return self.layout.contacts[pick % len(self.layout.contacts)]

    def order(self, order: Order) -> None:
        """An order; one that is refused changes nothing."""
        self.feed(None)
        before = state_of(self.core)
        entries = self.feed(order)
        if entries_refuse(entries):
            assert len(entries) == 1
            assert state_of(self.core) == before

    # What may come.

    @rule(us=WAITS)
    def time_passes(self, us: int) -> None:
        self.wait(us)

    @rule(off=st.sampled_from([0, 0, -1]))
    def time_passes_to_the_deadline(self, off: int) -> None:
        deadline = self.core.deadline_us
        if deadline is not None:
            self.wait(max(deadline + off - self.now_us, 0))

    @rule(pick=PICKS, made=READINGS)
    def raw_edge(self, pick: int, made: bool | None) -> None:
        self.feed((self.contact(pick).name, made))

    @rule(pick=PICKS, made=READINGS)
    def contact_settles(self, pick: int, made: bool | None) -> None:
        self.settle(self.contact(pick), made)

    @rule(pick=PICKS)
    def contact_turns(self, pick: int) -> None:
        contact = self.contact(pick)
        self.settle(contact, self.core.settled()[contact.name] is not True)

    @rule(pick=PICKS, edges=st.integers(20, 30), gap_us=st.sampled_from([0, 1, 45_000, 50_000]))
    def contact_chatters(self, pick: int, edges: int, gap_us: int) -> None:
        for number in range(edges):
            self.feed((self.contact(pick).name, number % 2 == 0))
            self.wait(gap_us)

    @rule(pick=PICKS, command=st.sampled_from(SPUR_COMMANDS), cars=st.integers(0, 3))
    def order_for_a_spur(self, pick: int, command: Command, cars: int) -> None:
        if not self.layout.spurs:
            return
        spur = self.layout.spurs[pick % len(self.layout.spurs)]
        with_cars = cars if command is Command.START_BRAKE_TEST else None
        self.order(Order(command, spur.id, cars=with_cars))

    @rule(number=st.integers(-1, 12))
    def acknowledgement(self, number: int) -> None:
        self.order(Order(Command.ACKNOWLEDGE, violation=number))

    @rule(pick=PICKS)
    def acknowledgement_of_one_that_stands(self, pick: int) -> None:
        numbers = list(self.watch.open)
        if not numbers:
            return
        number = numbers[pick % len(numbers)]
        self.order(Order(Command.ACKNOWLEDGE, violation=number))
        assert number not in self.watch.open

    @rule(pick=PICKS, steps=st.integers(1, 8))
    def crew_goes_on(self, pick: int, steps: int) -> None:
        """An honest crew does what comes next; so that all stages are reached."""
        if not self.layout.spurs:
            return
        spur = self.layout.spurs[pick % len(self.layout.spurs)]
        for _ in range(steps):
            phase, step = self.core.phases()[spur.id]
            if step is None:
                self.order(Order(Command.ASK, spur.id))
                step = spur.opening[0]
            if step == "work":
                self.occupy(spur.switch, made=phase == "opening")
                if phase == "working":
                    self.order(Order(Command.WORK_DONE, spur.id))
            else:
                self.take(spur.id, step, off=phase != "closing")

    def take(self, spur: str, step: str, *, off: bool) -> None:
        """Take a protection off, or put it back."""
        if step == "foreman":
            self.order(Order(Command.RELEASE if off else Command.HAND_BACK, spur))
            return
        mine = {c.role: c for c in self.layout.contacts if c.thing == step}
        roles = [Role.HASP, Role.NORMAL, Role.REVERSE, Role.SHUT, Role.ON, Role.RACK]
        for role in roles if off else [Role.REVERSE, *roles]:
            if role in mine and not (role is Role.HASP and not off):
                self.settle(mine[role], off == (role in (Role.REVERSE, Role.RACK)))
        if not off and Role.HASP in mine:
            self.settle(mine[Role.HASP], True)

    def occupy(self, thing: str, *, made: bool) -> None:
        """A train comes onto a detector, or goes."""
        for contact in self.layout.contacts:
            if contact.thing == thing and contact.role is Role.DETECTOR:
                self.settle(contact, made)

    def teardown(self) -> None:
        """The same input once more brings the same entries."""
        if not hasattr(self, "core"):
            return
        self.feed(None)
        again = Core(self.layout, self.standing)
        assert self.entries == [e for t_us, act in self.acts for e in give(again, t_us, act)]


def give(core: Core, t_us: int, act: Act) -> Sequence[Entry]:
    """Hand an input to a core."""
    if act is None:
        return core.advance(t_us)
    if isinstance(act, Order):
        return core.order(t_us, act)
    return core.reading(t_us, *act)


def entries_refuse(entries: Sequence[Entry]) -> bool:
    """Whether an order was refused."""
    return any(isinstance(entry, Refused) for entry in entries)


def state_of(core: Core) -> tuple[object, ...]:
    """Everything that a core says of itself."""
    return (core.deadline_us, core.settled(), core.stages(), core.phases(), core.foremen(),
            core.outputs(), core.faults())  # fmt: skip


class PairedMachine(CoreMachine):
    """The same input to cores that hear of it in other pieces."""

    def begin_others(self) -> None:
        """The cores that hear the same in other pieces."""
        self.split = Core(self.layout, self.standing)
        self.merged = Core(self.layout, self.standing)
        self.raw: Standing = self.split.settled()
        self.split_entries: list[Entry] = []
        self.merged_entries: list[Entry] = []

    def feed(self, act: Act) -> Sequence[Entry]:
        """Give it to all of them: to one in pieces, to another without the steps of time."""
        entries = super().feed(act)
        self.feed_split(act)
        assert self.split_entries == self.entries
        if act is not None:
            self.merged_entries += give(self.merged, self.now_us, act)
            assert self.merged_entries == self.entries
        return entries

    def feed_split(self, act: Act) -> None:
        """Stop on the way, and say again what was said before."""
        while self.dice.random() < 0.5 and self.split.now_us < self.now_us:
            deadline = self.split.deadline_us
            to_us = self.dice.randint(self.split.now_us, self.now_us)
            if deadline is not None and deadline < self.now_us and self.dice.random() < 0.5:
                to_us = deadline
            self.split_entries += self.split.advance(to_us)
            self.repeat()
        self.split_entries += give(self.split, self.now_us, act)
        if isinstance(act, tuple):
            self.raw[act[0]] = act[1]
        assert self.raw == self.core.raw() == self.split.raw()
        deadline = self.split.deadline_us
        if deadline is None or deadline > self.now_us:
            self.repeat()  # Else a reading would be first to tell that core what is due now.

    def repeat(self) -> None:
        """Read some contacts once more as they are."""
        for name in self.dice.sample(sorted(self.raw), self.dice.choice((0, 0, 1, len(self.raw)))):
            found = self.split.reading(self.split.now_us, name, self.raw[name])
            self.split_entries += found

    def teardown(self) -> None:
        """In the end the core that was told no times has the same entries."""
        super().teardown()
        if hasattr(self, "merged"):
            self.merged_entries += self.merged.advance(self.now_us)
            assert self.merged_entries == self.entries


TestCore = CoreMachine.TestCase
TestCore.settings = SETTINGS
TestPairs = PairedMachine.TestCase
TestPairs.settings = SETTINGS
