"""A stand: one switch with the spurs behind it, which is as far as any event of theirs reaches.

After each event it brings the spurs' phases and then its own outputs up to date, and only if
something that they depend on has changed.
"""

from __future__ import annotations

from collections.abc import Callable

from firmware_py.core.agenda import Agenda, Due, Timer
from firmware_py.core.entries import OutputEntry
from firmware_py.core.event import OUTPUTS, Event
from firmware_py.core.names import Shows
from firmware_py.core.outputs import Look
from firmware_py.core.spur import Spur
from firmware_py.core.switch import CHANGED, Switch

BUZZ_US = 2_000_000
"""How long a buzzer sounds at a violation."""


class Fitted:
    """One output that is fitted: whose it is, what it shows now, and how to work that out."""

    __slots__ = ("look", "of", "output", "shows")

    def __init__(self, of: str, output: str, look: Look) -> None:
        self.of = of
        self.output = output
        self.look = look
        self.shows = Shows.OFF


class Stand:
    """A switch, its spurs and what is fitted there."""

    __slots__ = ("_buzz", "_buzzer", "_event", "fitted", "number", "spurs", "switch")

    def __init__(
        self, event: Event, agenda: Agenda, number: int, switch: Switch, spurs: tuple[Spur, ...]
    ) -> None:
        self._event = event
        self.number = number
        self.switch = switch
        self.spurs = spurs
        self.fitted: list[Fitted] = []
        self._buzzer: Fitted | None = None
        self._buzz = Timer(agenda, Due.BUZZER, switch.id, self._fall_silent)

    @property
    def timers(self) -> tuple[Timer, ...]:
        """The deadlines of the stand, its switch and its spurs, each of which it concludes."""
        mine = [*self.switch.timers, *(timer for spur in self.spurs for timer in spur.timers)]
        return (*mine, self._buzz)

    def take_charge(self) -> None:
        """Make every deadline here end as any other event here."""
        for timer in self.timers:
            timer.fire = self._concluding(timer.fire)

    def _concluding(self, fire: Callable[[], None]) -> Callable[[], None]:
        def fire_here() -> None:
            self._event.stand = self.number
            self._event.quiet = False
            fire()
            self.conclude(anew=True)

        return fire_here

    def open_here(self) -> int:
        """How many violations stand unacknowledged here."""
        return self._event.ledger.open_at[self.number]

    def fit(self, of: str, output: str, look: Look) -> None:
        """Fit an output."""
        self.fitted.append(Fitted(of, output, look))

    def fit_buzzer(self) -> None:
        """Fit a buzzer, which falls silent by itself."""
        self._buzzer = Fitted(self.switch.id, "buzzer", self._buzzes)
        self.fitted.append(self._buzzer)

    def begin(self) -> None:
        """Show how things stand as the session begins, without an entry for it."""
        self.switch.begin()
        for fitted in self.fitted:
            fitted.shows = fitted.look()

    def conclude(self, *, anew: bool) -> None:
        """End an event that touched this stand; ``anew`` where faults or orders may have too."""
        turn = self.switch.turn
        if turn:
            self.switch.turn = 0
            anew = anew or turn & CHANGED > 0
        for spur in self.spurs:
            if turn:
                spur.follow(turn)
            if spur.dirty:
                spur.conclude(turn)
                anew = True
        if self._event.breaches and self._event.judge():
            anew = True
            if self._buzzer is not None:
                self._buzz.set(self._event.t_us + BUZZ_US)
        if anew and self.fitted:
            self._show()

    def _show(self) -> None:
        for fitted in self.fitted:
            shows = fitted.look()
            if shows is not fitted.shows:
                fitted.shows = shows
                entry = OutputEntry(self._event.t_us, fitted.of, fitted.output, shows)
                self._event.add(OUTPUTS, entry)

    def _buzzes(self) -> Shows:
        return Shows.OFF if self._buzz.due_us is None else Shows.ON

    def _fall_silent(self) -> None:
        """Nothing more: with its deadline gone the buzzer is off when outputs are shown."""
