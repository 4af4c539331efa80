"""gpiozero's view of an expander's line."""

from __future__ import annotations

import errno
from typing import TYPE_CHECKING

from gpiozero.exc import PinFixedPull, PinInvalidFunction, PinInvalidPull, PinSetInput
from gpiozero.pins import PinInfo

from firmware_py.pins.linepin import LinePin

if TYPE_CHECKING:
    from firmware_py.pins.expanders.factory import ExpanderFactory

PULLS = ("up", "floating")


class ExpanderPin(LinePin):
    """A line of an expander. Unused until its function is set; outputs are active-high.

    Reading gives what the last scan found, writing leaves it to the scan's thread: neither waits
    for the bus.
    """

    def __init__(self, factory: ExpanderFactory, info: PinInfo) -> None:
        super().__init__(factory, info)
        self._scanner, self._lines, self._line = factory.place(info.name)
        self._pull = "up"
        self._function: str | None = None

    def close(self) -> None:
        """Listen no more. An output stays as it is driven. A pin may be used again after it."""
        self.when_changed = None
        self._lines.remove(self._line)
        self._function = None

    def output_with_state(self, state: float) -> None:
        """Make it an output that is at ``state`` from its first moment, so it never blips.

        A chip that does not answer is not an error yet: writing to it is.
        """
        self._function = "output"
        self._lines.drive(self._line, bool(state))
        self._scanner.wake()

    def input_with_pull(self, pull: str) -> None:
        """Make it an input with a pull, in one go.

        Errors: ``PinsError`` for a line that is an output only.
        """
        self._pull = self._checked_pull(pull)
        self._lines.add(self._line, self._pull, self.hear)
        self._function = "input"

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
            self.input_with_pull(self._pull)

    def _get_state(self) -> bool | None:
        if self._function == "output":
            return self._lines.driven(self._line)
        if self._function is None:
            self.input_with_pull(self._pull)
        level = self._lines.level(self._line)
        if level is None and self._lines.silent is None:
            # It was never read yet, which the next scan does.
            self._scanner.settle()
            level = self._lines.level(self._line)
        return level

    def _set_state(self, value: float) -> None:
        if self._function != "output":
            raise PinSetInput(f"cannot set state of pin {self!r}")
        self._lines.drive(self._line, bool(value))
        self._scanner.wake()
        why = self._lines.silent
        if why is not None:
            # What is wanted is kept, and written as soon as the chip is back.
            raise OSError(errno.EREMOTEIO, f"chip {self._lines.chip.id} {why}")

    def _get_pull(self) -> str:
        return self._pull

    def _set_pull(self, value: str) -> None:
        if self._function == "output":
            raise PinFixedPull(f"cannot set pull on non-input pin {self!r}")
        self.input_with_pull(value)

    def _checked_pull(self, value: str) -> str:
        if value not in PULLS:
            raise PinInvalidPull(f'invalid pull "{value}" for pin {self!r}: it has pull-ups only')
        return value
