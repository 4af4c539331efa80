"""One driven wire: what it shows, how that is written, and what failed."""

from __future__ import annotations

from collections.abc import Mapping
from enum import StrEnum
from typing import Protocol

from firmware_py.core.names import Shows
from firmware_py.pins.flasher import Flasher, Rate
from firmware_py.pins.trouble import Tally


class Output(StrEnum):
    """The outputs of the layout file, in the order in which they are made safe."""

    BOLT = "bolt"
    POWER = "power"
    BUZZER = "buzzer"
    RED = "red"
    GREEN = "green"
    WHITE = "white"
    LAMP = "lamp"


LAMP = {Shows.STEADY: True, Shows.OFF: False}

LEVELS: Mapping[Output, Mapping[Shows, bool]] = {
    Output.BOLT: {Shows.DRAWN: True, Shows.SHUT: False},
    Output.POWER: {Shows.ON: True, Shows.OFF: False},
    Output.BUZZER: {Shows.ON: True, Shows.OFF: False},
    Output.RED: LAMP,
    Output.GREEN: LAMP,
    Output.WHITE: LAMP,
    Output.LAMP: LAMP,
}
"""What each output can show steadily, and whether its wire is energised for it."""

SAFE: Mapping[Output, Shows] = {
    Output.BOLT: Shows.SHUT,
    Output.POWER: Shows.OFF,
    Output.BUZZER: Shows.OFF,
    Output.RED: Shows.STEADY,
    Output.GREEN: Shows.OFF,
    Output.WHITE: Shows.OFF,
    Output.LAMP: Shows.OFF,
}
"""What each output shows when nobody leads the crews any more."""

AT_FIRST = {
    output: next(shows for shows, on in LEVELS[output].items() if not on) for output in SAFE
}
"""What each output shows when its wire is first driven: not energised."""


class OutputPin(Protocol):
    """What is used of gpiozero's pins."""

    state: float


class OutputDevice(Protocol):
    """What is used of gpiozero's output devices."""

    @property
    def pin(self) -> OutputPin:
        """Its wire."""

    @property
    def active_high(self) -> bool:
        """Whether the wire is high while it is energised."""

    def close(self) -> None:
        """Give the pin back."""


class Drive:
    """A driven wire. ``shows`` is what it was last told to show."""

    __slots__ = (
        "_flasher",
        "_pin",
        "_rate",
        "_state",
        "device",
        "levels",
        "output",
        "shows",
        "tally",
    )

    def __init__(self, at: str, output: Output, device: OutputDevice, flasher: Flasher) -> None:
        self.device = device
        self.output = output
        self.levels = LEVELS[output]
        self.shows = AT_FIRST[output]
        self.tally = Tally(at)
        # The device's own ``on`` sees to a blinking thread first, at some cost; ours has none.
        self._pin = device.pin
        self._state = {lit: lit is device.active_high for lit in (False, True)}
        self._flasher = flasher
        self._rate = Rate.FAST if output is Output.RED else Rate.SLOW

    def show(self, shows: Shows) -> None:
        """Write at once; a wire that does not answer is counted, and ``refresh`` tries it again.

        Errors: ``ValueError`` for what this output can't show.
        """
        lit = self.levels.get(shows)
        if lit is None:
            self._flash(shows)
            return
        if self.shows is Shows.FLASHING:
            self._flasher.remove(self)
        self.shows = shows
        self.light(lit)

    def light(self, lit: bool) -> None:
        """Energise the wire or not; failing is counted."""
        try:
            self._pin.state = self._state[lit]
        except Exception as error:
            # Whatever the reason, a lamp's wire must not stop the engine or the other lamps.
            self.tally.failed(error)
        else:
            if self.tally.standing:
                self.tally.works()

    def refresh(self) -> None:
        """Write once more what is shown."""
        if self.shows is Shows.FLASHING:
            self._flasher.rewrite(self)
        else:
            self.light(self.levels[self.shows])

    def make_safe(self) -> str | None:
        """Show what is safe; say what went wrong, if anything did. Never raises."""
        failed_before = self.tally.times
        try:
            self.show(SAFE[self.output])
        except Exception as error:
            self.tally.failed(error)
        return f"{self.tally.at}: {self.tally.why}" if self.tally.times > failed_before else None

    def _flash(self, shows: Shows) -> None:
        if shows is not Shows.FLASHING or self.levels is not LAMP:
            can = ", ".join(self.levels) + (", flashing" if self.levels is LAMP else "")
            raise ValueError(f"{self.tally.at} can't show {shows!s}: it can show {can}")
        self.shows = shows
        self._flasher.add(self, self._rate)
