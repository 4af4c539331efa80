"""Simulated pins: gpiozero's mock factory, with pins for other chips and for wires without a pin.

Differences from gpiozero's own mock pins, all of them on purpose: ticks are kernel monotonic
nanoseconds from a clock that can be put in; no history of states is kept (gpiozero's grows
without end); a contact stays as a hand has left it when its device is built anew, as a real one
does; and a pin can be lost, as when its chip dies.
"""

from __future__ import annotations

import time
from collections.abc import Callable, Iterable
from threading import RLock
from typing import Any

from gpiozero.exc import PinInvalidState, PinSetInput
from gpiozero.pins import Pin as GpioPin
from gpiozero.pins import PinInfo
from gpiozero.pins.mock import MockFactory, MockPin

from firmware_py.layout.model import MADE_AT_REST, Contact
from firmware_py.pins.trouble import Trouble
from firmware_py.pins.wiring import SimulatedInfo, pin_name


class SimulatedPin(MockPin):  # type: ignore[misc]  # gpiozero ships no types
    """A mock pin for any wire. ``state`` is True (high), False (low) or None (lost)."""

    def __init__(self, factory: SimulatedFactory, info: PinInfo) -> None:
        # MockPin's own constructor takes a BCM number out of the name, and these may have none.
        GpioPin.__init__(self)
        self._factory = factory
        self._info = info
        self._clock_ns = factory.clock_ns
        self._when_changed_lock = factory.lock
        self._when_changed: Any = None
        self._function = "input"
        self._pull = info.pull or "floating"
        self._bounce: float | None = None
        self._edges = "both"
        self._state: bool | None = self._pull == "up"
        self._held: bool | None = None
        self._by_hand = False
        self.clear_states()

    def drive(self, level: bool | None) -> None:
        """Set an input's level; whoever watches the pin hears of a change at once.

        Ticks are nanoseconds of the factory's clock. ``None`` stands for a lost pin.
        Errors: ``PinInvalidState`` for an output; what the watcher raises comes through.
        """
        if self._function != "input":
            raise PinInvalidState(f"{self!r} is an output: no hand can drive it")
        if level is self._state:
            return
        self._state = level
        hook = self._when_changed
        if hook is None:
            return
        watcher = hook()
        edges = self._edges
        if watcher is not None and edges in ("both", "rising" if level else "falling"):
            watcher(self._clock_ns(), level)

    def drive_high(self) -> None:
        """Drive an input high."""
        self.drive(True)

    def drive_low(self) -> None:
        """Drive an input low."""
        self.drive(False)

    def hold(self, level: bool | None) -> None:
        """Drive an input and keep it so through a rebuilding of its device."""
        self._by_hand = True
        self._held = level
        self.drive(level)

    def _set_state(self, value: float) -> None:
        if self._function != "output":
            raise PinSetInput(f"cannot set state of pin {self!r}")
        self._state = bool(value)

    def _change_state(self, value: bool | None) -> bool:
        # MockPin notes each change in a list for ever; here only the level is kept.
        changed = value is not self._state
        self._state = value
        return changed

    def _set_pull(self, value: str) -> None:
        super()._set_pull(value)
        if self._by_hand:
            self.drive(self._held)


class SimulatedFactory(MockFactory):  # type: ignore[misc]  # gpiozero ships no types
    """Makes simulated pins for BCM numbers, ``"chip:line"`` and ``"auto:thing.role"``.

    ``clock_ns`` gives kernel monotonic nanoseconds; a test puts its own in.
    """

    simulated = True
    alive = True

    def __init__(self, clock_ns: Callable[[], int] = time.monotonic_ns) -> None:
        super().__init__(pin_class=SimulatedPin)
        self.clock_ns = clock_ns
        self.lock = RLock()
        self._board: SimulatedInfo | None = None

    def _get_board_info(self) -> SimulatedInfo:
        if self._board is None:
            self._board = SimulatedInfo.from_revision(self._get_revision())
        return self._board

    def ticks(self) -> int:
        """Now, in nanoseconds of the factory's clock."""
        return self.clock_ns()

    def ticks_diff(self, later: int, earlier: int) -> float:
        """Seconds from ``earlier`` to ``later``."""
        return (later - earlier) / 1_000_000_000

    def claim_inputs(self, names: Iterable[int | str]) -> None:
        """Nothing to claim here; real pins ask the kernel for all of these lines at once."""

    def troubles(self) -> tuple[Trouble, ...]:
        """None: simulated pins do not fail."""
        return ()

    def hand(self, contact: Contact, made: bool | None) -> None:
        """Make or break a contact as a hand would; ``None`` loses it, as when its chip dies.

        The board's watcher is called in this thread before the method returns.
        """
        level = None if made is None else made is contact.inverted
        self.pin(pin_name(contact.pin, contact.name)).hold(level)

    def rest(self, contacts: Iterable[Contact]) -> None:
        """Set contacts as at a spur at rest: hasp, normal, shut, on, hook made; all else open."""
        for contact in contacts:
            self.hand(contact, contact.role in MADE_AT_REST)
