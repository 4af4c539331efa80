"""A spur: its protections in their two orders, its phase and its next step.

With it stand the rules of rulebook section 6 that are not one protection's own.
"""

from __future__ import annotations

from firmware_py.core.agenda import Agenda, Due, Timer
from firmware_py.core.contacts import Contact, made
from firmware_py.core.entries import BrakeTestEntry, ForemanEntry, PhaseEntry
from firmware_py.core.event import BRAKE_TESTS, FOREMEN, PHASES, Event
from firmware_py.core.names import BrakeTest, Foreman, Phase, Points, Rule, Stage
from firmware_py.core.protections import (
    ChockProtection,
    ForemanProtection,
    Protection,
    RackProtection,
)
from firmware_py.core.switch import (
    CAME_OFF,
    CHANGED,
    DETECTED,
    OCCUPIED,
    RESTORED,
    REVERSED,
    RIGHTED,
    SHUT,
    Switch,
)

WORK = "work"
"""The next step while nothing is left to take off: the work itself."""


class Spur:
    """A spur as the core knows it.

    The marks of the running event: ``_begins`` (an order to ask, or a protection came off),
    ``_done`` (the work is over by order), ``dirty`` (phase and step must be looked at again).
    """

    __slots__ = (
        "_before_back",
        "_before_off",
        "_begins",
        "_done",
        "_event",
        "_grade_matters",
        "_had_off",
        "_own_switch",
        "_return",
        "_return_us",
        "_test",
        "chocks",
        "closing",
        "detector",
        "dirty",
        "flags",
        "foreman",
        "fouling",
        "id",
        "next_step",
        "opening",
        "phase",
        "switch",
        "testing",
    )

    def __init__(  # noqa: PLR0913 - its place among the machines, and two facts of the layout
        self,
        event: Event,
        agenda: Agenda,
        ident: str,
        switch: Switch,
        *,
        return_us: int,
        grade_matters: bool,
    ) -> None:
        self.id = ident
        self.switch = switch
        self._event = event
        self._return_us = return_us
        self._grade_matters = grade_matters
        self.detector: Contact | None = None
        self.fouling: Contact | None = None
        self.foreman: ForemanProtection | None = None
        self.flags: tuple[RackProtection, ...] = ()
        self.chocks: tuple[ChockProtection, ...] = ()
        self.opening: tuple[Protection, ...] = ()
        self.closing: tuple[Protection, ...] = ()
        self._before_off: dict[str, tuple[Protection, ...]] = {}
        self._before_back: dict[str, tuple[Protection, ...]] = {}
        self.phase = Phase.IDLE
        self.next_step: str | None = None
        self.testing = False
        self.dirty = self._begins = self._done = self._had_off = False
        self._return = Timer(agenda, Due.RETURN, ident, self._check_returns)
        self._test = Timer(agenda, Due.BRAKE_TEST, ident, self._finish_test)

    def fit(self, detector: Contact | None, fouling: Contact | None) -> None:
        """Take the spur's own contacts."""
        self.detector, self.fouling = detector, fouling
        if detector is not None:
            detector.react = self._detector_settled
            detector.lose = self._detector_lost

    def arrange(self, opening: tuple[Protection, ...], closing: tuple[Protection, ...]) -> None:
        """Take the two orders; what stands before what is worked out once, here."""
        self.opening, self.closing = opening, closing
        self._before_off = {item.step: opening[:place] for place, item in enumerate(opening)}
        self._before_back = {item.step: closing[:place] for place, item in enumerate(closing)}
        self._own_switch = next(item for item in opening if item.step == self.switch.id)

    @property
    def timers(self) -> tuple[Timer, ...]:
        """The deadlines of this spur."""
        return self._return, self._test

    @property
    def says(self) -> Foreman:
        """What the foreman says; a spur without one was never asked for."""
        return self.foreman.says if self.foreman else Foreman.NOT_ASKED

    def ready_for(self, step: str) -> bool:
        """Whether every protection before ``step`` is off."""
        return all(item.is_off() for item in self._before_off[step])

    def sound_before(self, step: str) -> bool:
        """Whether every protection before ``step`` is without a fault."""
        return not any(item.faults for item in self._before_off[step])

    def is_open(self) -> bool:
        """Whether every protection is off: the spur is the crew's."""
        for item in self.opening:  # noqa: SIM110 - a generator would cost three times as much
            if not item.is_off():
                return False
        return True

    # What the protections did.

    def came_off(self, protection: Protection) -> None:
        """A protection came off: whatever is before it in ``opening``, still on, is skipped."""
        self.dirty = self._begins = self._had_off = True
        before = self._before_off[protection.step]
        missing = tuple([item.step for item in before if not item.is_off()])
        if missing:
            self._event.breach(Rule.OUT_OF_ORDER, protection.at, self.id, missing)

    def went_back(self, protection: Protection) -> None:
        """A protection went back: whatever is before it in ``closing``, still off, is skipped."""
        self.dirty = True
        before = self._before_back[protection.step]
        missing = tuple([item.step for item in before if not item.is_back()])
        if missing:
            self._event.breach(Rule.OUT_OF_ORDER, protection.at, self.id, missing)

    def stirred(self) -> None:
        """Something changed that is neither coming off nor going back."""
        self.dirty = True

    # What the switch did.

    def follow(self, turn: int) -> None:
        """Judge what the event did to the switch: ``turn`` holds the switch's marks."""
        if turn & CHANGED:
            self.dirty = True
            if turn & (CAME_OFF | SHUT):
                self._follow_order(turn)
            if turn & RIGHTED and made(self.fouling):
                self._event.breach(Rule.LINED_BEHIND_EARLY, self.id, self.id)
            if self.switch.stage is not Stage.SECURED:
                self._return.clear()
        if turn & DETECTED:
            if turn & OCCUPIED and self.switch.points is Points.REVERSE:
                self._move_under_flag()
            self._move_in_test()

    def _follow_order(self, turn: int) -> None:
        if turn & CAME_OFF:
            self.came_off(self._own_switch)
        if turn & SHUT:
            self.went_back(self._own_switch)
            if made(self.fouling):
                self._event.breach(Rule.LEFT_FOUL, self.id, self.id)
            self._return.set(self._event.t_us + self._return_us)

    # What the spur's own contacts did.

    def _detector_settled(self, contact: Contact, occupied: bool) -> None:
        if self.chocks:
            self.dirty = True  # On an empty spur a chock in its rack is back.
        self.switch.stir()
        self._move_under_flag()
        if not occupied:
            self._pull_against_chock()
        self._move_in_test()

    def _detector_lost(self, contact: Contact) -> None:
        self.dirty = True  # A chock in its rack is no longer known to be back.

    def _move_under_flag(self) -> None:
        for flag in self.flags:
            if flag.is_out():
                self._event.breach(Rule.MOVED_UNDER_FLAG, flag.at, self.id)
                return

    def _pull_against_chock(self) -> None:
        for chock in self.chocks:
            if chock.is_out():
                self._event.breach(Rule.PULLED_AGAINST_CHOCK, chock.at, self.id)
                return

    def _move_in_test(self) -> None:
        if self.testing and not self._event.quiet:
            self._event.breach(Rule.MOVED_IN_BRAKE_TEST, self.id, self.id)
            self._test.clear()
            self._end_test(BrakeTest.BROKEN)

    # What was ordered; ``orders.py`` has judged that it makes sense.

    def say(self, foreman: Foreman) -> None:
        """The foreman, whom this spur has, says something new."""
        self._foreman().says = foreman
        self.dirty = True
        self._event.add(FOREMEN, ForemanEntry(self._event.t_us, self.id, foreman))

    def ask(self) -> None:
        """A crew asks for the spur."""
        self._begins = self.dirty = True
        if self.foreman is not None:
            self.say(Foreman.ASKED)

    def release(self) -> None:
        """The foreman releases the spur."""
        self.say(Foreman.RELEASED)
        self.came_off(self._foreman())

    def hand_back(self) -> None:
        """The crew hands the spur back to the foreman."""
        self.say(Foreman.NOT_ASKED)
        self.went_back(self._foreman())
        self._done = True

    def _foreman(self) -> ForemanProtection:
        assert self.foreman is not None, "a spur without a foreman was never asked for"
        return self.foreman

    def end_work(self) -> None:
        """The crew says that its work is done."""
        self._done = self.dirty = True

    def start_test(self, cars: int, seconds: float) -> None:
        """A brake test of ``cars`` begins, for so many ``seconds``."""
        self.testing = True
        self._test.set(self._event.t_us + round(seconds * 1_000_000))
        entry = BrakeTestEntry(self._event.t_us, self.id, BrakeTest.RUNNING, cars, seconds)
        self._event.add(BRAKE_TESTS, entry)

    # Deadlines.

    def _finish_test(self) -> None:
        self._end_test(BrakeTest.DONE)

    def _end_test(self, how: BrakeTest) -> None:
        self.testing = False
        self._event.add(BRAKE_TESTS, BrakeTestEntry(self._event.t_us, self.id, how))

    def _check_returns(self) -> None:
        for item in self.closing:
            if not item.is_back() and not isinstance(item, ChockProtection):
                self._event.breach(Rule.NOT_RETURNED, item.at, self.id)
        occupied = self.detector is None or self.detector.settled is True
        should_be_set = self.chocks if self._grade_matters and occupied else ()
        if should_be_set and not any(chock.is_out() for chock in should_be_set):
            self._event.breach(Rule.LEFT_UNCHOCKED, should_be_set[0].at, self.id)

    # Phase and next step (rulebook section 8).

    def conclude(self, turn: int) -> None:
        """See where the event left phase and next step."""
        self.dirty = False
        phase = self._phase_after(turn)
        self._begins = self._done = False
        step = self._step_in(phase)
        if step is None:
            self._had_off = False
            if self.says is not Foreman.NOT_ASKED:
                self.say(Foreman.NOT_ASKED)
                self.dirty = False
        if phase is not self.phase or step != self.next_step:
            self.phase, self.next_step = phase, step
            self._event.add(PHASES, PhaseEntry(self._event.t_us, self.id, phase, step))

    def _phase_after(self, turn: int) -> Phase:
        phase = self.phase
        if phase is Phase.IDLE:
            if not self._begins:
                return phase
            phase = Phase.OPENING
        if self._done and (phase is Phase.OPENING or phase is Phase.WORKING):
            phase = Phase.CLOSING
        if phase is Phase.CLOSING and turn & REVERSED:
            phase = Phase.OPENING
        if phase is Phase.OPENING and self.switch.stage is Stage.IN_USE:
            phase = Phase.WORKING
        if turn & (RESTORED | SHUT) and (phase is Phase.OPENING or phase is Phase.WORKING):
            phase = Phase.CLOSING
        ends = phase is Phase.CLOSING or (phase is Phase.OPENING and self._had_off)
        return Phase.IDLE if ends and self._all_back() else phase

    def _all_back(self) -> bool:
        for item in self.closing:  # noqa: SIM110 - a generator would cost three times as much
            if not item.is_back():
                return False
        return True

    def _step_in(self, phase: Phase) -> str | None:
        if phase is Phase.IDLE:
            return None
        if phase is Phase.OPENING:
            for item in self.opening:
                if not item.is_off():
                    return item.step
        elif phase is Phase.CLOSING:
            # One is not back, or the phase would be idle.
            return next(item.step for item in self.closing if not item.is_back())
        return WORK
