"""``CharDevFactory``: a gpiozero pin factory over the kernel's GPIO character device.

``GPIOZERO_PIN_FACTORY=spurlock`` selects it for any gpiozero program. Ticks are kernel monotonic
nanoseconds (``int``), for edges those of the kernel's own time stamps. A pin's ``state`` is
``None`` while its chip does not answer; plain gpiozero devices show that as inactive.
Debouncing is not done here, and is refused: it would hide when a contact really changed.
"""

from __future__ import annotations

import time
from collections.abc import Iterable
from threading import RLock

from gpiozero.exc import (
    PinFixedPull,
    PinInvalidFunction,
    PinInvalidPin,
    PinInvalidPull,
    PinSetInput,
    PinSPIUnsupported,
    PinUnknownPi,
)
from gpiozero.pins import PinInfo
from gpiozero.pins.local import get_pi_revision
from gpiozero.pins.pi import PiFactory

from firmware_py.pins.bank import Bank
from firmware_py.pins.driver import Driver
from firmware_py.pins.kernel import BIASES, HEADER, Kernel
from firmware_py.pins.linepin import LinePin
from firmware_py.pins.reader import Reader
from firmware_py.pins.trouble import Trouble
from firmware_py.pins.wiring import WiringInfo, split_chip_line

SOME_PI = 0xA02082
"""Where this is no Pi, names are those of the 40-pin header that all of them share."""


class CharDevPin(LinePin):
    """A line of a GPIO chip. Unused until its function is set; outputs are active-high."""

    def __init__(self, factory: CharDevFactory, info: PinInfo) -> None:
        super().__init__(factory, info)
        self._pull = info.pull or "floating"
        chip, self._offset = _place(info)
        self._bank = factory.bank(chip)
        self._driver = Driver(factory.kernel, chip, self._offset)
        self._function: str | None = None

    def close(self) -> None:
        """Give the line back to the kernel. A pin may be used again after it."""
        self.when_changed = None
        self._bank.remove(self._offset)
        self._driver.release()
        self._function = None

    def output_with_state(self, state: float) -> None:
        """Make it an output that is at ``state`` from its first moment, so it never blips.

        A chip that is absent is not an error yet: writing to it is.
        Errors: ``PinsError`` if the kernel refuses the line.
        """
        self._bank.remove(self._offset)
        if self._bank.holds(self._offset):
            self._factory.settle(self._bank)
        self._function = "output"
        self._driver.begin(bool(state))

    def input_with_pull(self, pull: str) -> None:
        """Make it an input with a pull, in one go."""
        self._pull = self._checked_pull(pull)
        self._function = None
        self._set_function("input")

    def _get_function(self) -> str:
        return self._function or "input"

    def _set_function(self, value: str) -> None:
        if value not in ("input", "output"):
            raise PinInvalidFunction(f'invalid function "{value}" for pin {self!r}')
        if value == self._function:
            return
        if value == "output":
            self.output_with_state(False)
        else:
            self._driver.release()
            self._function = "input"
            self._bank.add(self._offset, self._pull, self.hear)

    def _get_state(self) -> bool | None:
        if self._function == "output":
            return self._driver.level
        if self._function is None:
            self._set_function("input")
        # Reading is what makes a line added since the last request be asked for.
        self._factory.settle(self._bank)
        return self._bank.level(self._offset)

    def _set_state(self, value: float) -> None:
        if self._function != "output":
            raise PinSetInput(f"cannot set state of pin {self!r}")
        self._driver.write(bool(value))

    def _get_pull(self) -> str:
        return self._pull

    def _set_pull(self, value: str) -> None:
        if self._function == "output":
            raise PinFixedPull(f"cannot set pull on non-input pin {self!r}")
        self._pull = self._checked_pull(value)
        if self._function == "input":
            self._bank.add(self._offset, self._pull, self.hear)

    def _checked_pull(self, value: str) -> str:
        if value not in BIASES:
            raise PinInvalidPull(f'invalid pull "{value}" for pin {self!r}')
        if self._info.pull not in (value, ""):
            raise PinFixedPull(f"{self!r} has a physical pull-{self._info.pull} resistor")
        return value

    def _enable_event_detect(self) -> None:
        # Edges are requested with the line; this is where a plain device needs them to flow.
        if self._function == "input":
            self._factory.settle(self._bank)


class CharDevFactory(PiFactory):  # type: ignore[misc]  # gpiozero ships no types
    """Serves the header's pins by all their names and other chips' lines as ``"chip:line"``.

    ``kernel`` is for tests; ``resync_s`` is how often all levels are read, in seconds.
    """

    simulated = False

    def __init__(self, kernel: Kernel | None = None, resync_s: float = 1.0) -> None:
        super().__init__()
        self.pin_class = CharDevPin
        self._board: WiringInfo | None = None
        self.kernel = kernel or Kernel()
        self._banks: dict[str, Bank] = {}
        self._banks_lock = RLock()
        self._followed: set[str] = set()
        self._reader = Reader(resync_s)

    @property
    def alive(self) -> bool:
        """Whether the thread that reads the edges runs (or is not needed yet)."""
        return self._reader.alive

    def claim_inputs(self, names: Iterable[int | str]) -> None:
        """Take all of these as inputs with pull-ups, in one request for each chip.

        To be called before their devices are made, which then find them ready. A chip that is
        absent is not an error: its contacts are unknown until it answers.
        Errors: ``PinInvalidPin`` for a name that is none, ``PinsError`` if a chip refuses.
        """
        for name in names:
            self.pin(name).input_with_pull("up")
        for bank in [*self._banks.values()]:
            self.settle(bank)

    def bank(self, chip: str) -> Bank:
        """Return the input lines of a chip, made at the first call."""
        with self._banks_lock:
            if chip not in self._banks:
                self._banks[chip] = Bank(self.kernel, chip)
            return self._banks[chip]

    def settle(self, bank: Bank) -> None:
        """See that the lines of a chip are requested and followed."""
        if not bank.claim():
            return
        with self._banks_lock:
            new = bank.chip not in self._followed
            self._followed.add(bank.chip)
        if new:
            self._reader.follow(bank)
        else:
            # The request was made anew: levels may have changed while there was none.
            self._reader.wake(resync=True)

    def troubles(self) -> tuple[Trouble, ...]:
        """Report what went wrong with chips, callbacks and the thread, counted."""
        banks = [trouble for bank in [*self._banks.values()] for trouble in bank.troubles()]
        return (*banks, *self._reader.troubles())

    def close(self) -> None:
        """Stop the thread and give all lines back.

        Outputs keep or lose their level as the kernel decides, so they must be safe before.
        """
        self._reader.close()
        super().close()
        for bank in self._banks.values():
            bank.release()

    def ticks(self) -> int:
        """Now, in kernel monotonic nanoseconds."""
        return time.monotonic_ns()

    def ticks_diff(self, later: int, earlier: int) -> float:
        """Seconds from ``earlier`` to ``later``."""
        return (later - earlier) / 1_000_000_000

    def spi(self, **spi_args: object) -> None:
        """Not offered: ``PinSPIUnsupported``."""
        raise PinSPIUnsupported("this pin factory has no SPI")

    def _get_revision(self) -> int:
        try:
            return int(get_pi_revision())
        except (PinUnknownPi, OSError):
            return SOME_PI

    def _get_board_info(self) -> WiringInfo:
        if self._board is None:
            self._board = WiringInfo.from_revision(self._get_revision())
        return self._board


def _place(info: PinInfo) -> tuple[str, int]:
    if "gpio" not in info.interfaces:
        raise PinInvalidPin(f"{info.name} is not a GPIO pin")
    place = split_chip_line(info.name)
    if place is not None:
        return place
    # On the header's chip, line numbers are BCM numbers on every model.
    return HEADER, int(info.name.removeprefix("GPIO"))
