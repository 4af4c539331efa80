"""``LayoutFactory``: header pins and the kernel's chips by one factory, expanders by another."""

from __future__ import annotations

import contextlib
from collections.abc import Iterable
from typing import Any

from gpiozero.exc import PinSPIUnsupported
from gpiozero.pins import Factory

from firmware_py.layout.electrics import Chip
from firmware_py.pins.chardev import CharDevFactory
from firmware_py.pins.expanders.factory import ExpanderFactory
from firmware_py.pins.expanders.opening import EXPANDERS
from firmware_py.pins.trouble import Trouble

Name = int | str


class LayoutFactory(Factory):  # type: ignore[misc]  # gpiozero ships no types
    """Serves every pin of a layout; whose line it is says which factory does. Owns both."""

    simulated = False

    def __init__(self, kernel: CharDevFactory, expanders: ExpanderFactory) -> None:
        super().__init__()
        self._kernel = kernel
        self._expanders = expanders

    @property
    def alive(self) -> bool:
        """Whether all threads that notice changes run."""
        return self._kernel.alive and self._expanders.alive

    def claim_inputs(self, names: Iterable[Name]) -> None:
        """Take all of these as inputs with pull-ups; errors as the two factories have them."""
        names = [*names]
        # The buses first: their first scans go on while the kernel is asked.
        self._expanders.claim_inputs(name for name in names if self._expanders.serves(name))
        self._kernel.claim_inputs(name for name in names if not self._expanders.serves(name))

    def pin(self, name: Name) -> Any:  # noqa: ANN401 - gpiozero ships no types
        """The pin of this name."""
        return self._of(name).pin(name)

    def reserve_pins(self, requester: object, *names: Name) -> None:
        """Reserve pins for a device; ``GPIOPinInUse`` if another has one."""
        for name in names:
            self._of(name).reserve_pins(requester, name)

    def release_pins(self, reserver: object, *names: Name) -> None:
        """Give a device's reservation of pins up."""
        for name in names:
            self._of(name).release_pins(reserver, name)

    def release_all(self, reserver: object) -> None:
        """Give all reservations of a device up."""
        self._expanders.release_all(reserver)
        self._kernel.release_all(reserver)

    def troubles(self) -> tuple[Trouble, ...]:
        """Report what went wrong, counted."""
        return (*self._kernel.troubles(), *self._expanders.troubles())

    def close(self) -> None:
        """Close both; one that fails does not keep the other from it."""
        with contextlib.ExitStack() as stack:
            stack.callback(self._kernel.close)
            stack.callback(self._expanders.close)

    def ticks(self) -> int:
        """Now, in kernel monotonic nanoseconds."""
        return self._kernel.ticks()

    def ticks_diff(self, later: int, earlier: int) -> float:
        """Seconds from ``earlier`` to ``later``."""
        return self._kernel.ticks_diff(later, earlier)

    def spi(self, **spi_args: object) -> None:
        """Not offered: ``PinSPIUnsupported``."""
        raise PinSPIUnsupported("this pin factory has no SPI")

    def _get_board_info(self) -> object:
        return self._kernel.board_info

    def _of(self, name: Name) -> Any:  # noqa: ANN401 - gpiozero ships no types
        return self._expanders if self._expanders.serves(name) else self._kernel


def factory_for(chips: Iterable[Chip], kernel: CharDevFactory) -> CharDevFactory | LayoutFactory:
    """The factory that serves a layout with these chips: the kernel's own if no more is needed."""
    expanders = [chip for chip in chips if chip.kind in EXPANDERS]
    return LayoutFactory(kernel, ExpanderFactory(expanders)) if expanders else kernel
