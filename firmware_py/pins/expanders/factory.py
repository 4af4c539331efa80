"""``ExpanderFactory``: a gpiozero pin factory over expanders, without the kernel's GPIO drivers.

Ticks are kernel monotonic nanoseconds (``int``); an edge's are those of the scan that found it,
so up to a scan late. A pin's ``state`` is ``None`` while its chip does not answer.
"""

from __future__ import annotations

import time
from collections.abc import Callable, Iterable, Iterator

from gpiozero.exc import PinSPIUnsupported
from gpiozero.pins import PinInfo
from gpiozero.pins.pi import PiFactory

from firmware_py.layout.electrics import Chip, ChipKind
from firmware_py.pins.expanders.lines import Lines
from firmware_py.pins.expanders.link import Open
from firmware_py.pins.expanders.naming import bus_name
from firmware_py.pins.expanders.opening import EXPANDERS, bus_key, open_bus
from firmware_py.pins.expanders.pin import ExpanderPin
from firmware_py.pins.expanders.scanner import Scanner
from firmware_py.pins.trouble import Trouble
from firmware_py.pins.wiring import off_header, split_chip_line


class ExpanderInfo:
    """What gpiozero asks of a board: which pins there are by which names."""

    def __init__(self, chips: Iterable[Chip]) -> None:
        self._chips = {chip.id: chip for chip in chips}

    def find_pin(self, name: object) -> Iterator[tuple[object, PinInfo]]:
        """Yield ``(None, pin)`` for ``"chip:line"`` of a chip that is known, else nothing."""
        place = split_chip_line(name)
        chip = self.chip(name)
        if place is not None and chip is not None and place[1] in chip.lines:
            yield None, off_header(f"{place[0]}:{place[1]}", place[1])

    def chip(self, name: object) -> Chip | None:
        """The chip that a name belongs to, if it is known."""
        place = split_chip_line(name)
        return None if place is None else self._chips.get(place[0])


class ExpanderFactory(PiFactory):  # type: ignore[misc]  # gpiozero ships no types
    """Serves the lines of the layout's expanders as ``"chip:line"``; one thread for each bus.

    ``open_bus`` and ``clock_ns`` are for tests, and so is ``threaded``: when false, nothing moves
    but in ``step``. Chips of the kernel's are passed over.
    """

    simulated = False

    def __init__(
        self,
        chips: Iterable[Chip],
        open_bus: Open = open_bus,
        clock_ns: Callable[[], int] = time.monotonic_ns,
        threaded: bool = True,
    ) -> None:
        super().__init__()
        self.pin_class = ExpanderPin
        self._board = ExpanderInfo(chip for chip in chips if chip.kind in EXPANDERS)
        self._open = open_bus
        self._clock_ns = clock_ns
        self._threaded = threaded
        self._scanners: dict[tuple[ChipKind, int, int], Scanner] = {}

    @property
    def alive(self) -> bool:
        """Whether the threads of all buses in use run."""
        return all(scanner.alive for scanner in self._scanners.values())

    def serves(self, name: object) -> bool:
        """Whether a name is that of a line of a chip of this factory's."""
        return self._board.chip(name) is not None

    def claim_inputs(self, names: Iterable[int | str]) -> None:
        """Take all of these as inputs with pull-ups, and wait until they have been read.

        A chip that does not answer is not an error: its contacts are unknown until it does.
        Errors: ``PinInvalidPin`` for a name that is none, ``PinsError`` if a bus can't be opened
        or a line is an output only.
        """
        for name in names:
            self.pin(name).input_with_pull("up")
        for scanner in self._scanners.values():
            scanner.settle()

    def place(self, name: str) -> tuple[Scanner, Lines, int]:
        """Where a pin is: the scan of its bus, the lines of its chip, and which.

        Errors: ``PinsError`` if its bus can't be opened.
        """
        chip, place = self._board.chip(name), split_chip_line(name)
        assert chip is not None, "gpiozero has found the pin by this name"
        assert place is not None, "and so it has a line"
        key = bus_key(chip)
        if key not in self._scanners:
            self._scanners[key] = Scanner(
                bus_name(chip), self._open, self._clock_ns, self._threaded
            )
        scanner = self._scanners[key]
        return scanner, scanner.lines(chip), place[1]

    def step(self) -> None:
        """Scan every bus once, in this thread; for a factory that is not ``threaded``."""
        for scanner in self._scanners.values():
            scanner.step()

    def troubles(self) -> tuple[Trouble, ...]:
        """Report what went wrong with chips, buses, callbacks and threads, counted."""
        scanners = [*self._scanners.values()]
        return tuple(trouble for scanner in scanners for trouble in scanner.troubles())

    def close(self) -> None:
        """Stop the threads and give the buses back. Outputs keep what they were last told."""
        super().close()
        for scanner in self._scanners.values():
            scanner.close()

    def ticks(self) -> int:
        """Now, in kernel monotonic nanoseconds."""
        return self._clock_ns()

    def ticks_diff(self, later: int, earlier: int) -> float:
        """Seconds from ``earlier`` to ``later``."""
        return (later - earlier) / 1_000_000_000

    def spi(self, **spi_args: object) -> None:
        """Not offered: ``PinSPIUnsupported``."""
        raise PinSPIUnsupported("this pin factory has no SPI")

    def _get_board_info(self) -> ExpanderInfo:
        return self._board
