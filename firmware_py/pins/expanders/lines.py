"""One chip as it is to be, and how its lines stand: shared between the scan and everyone else.

Nothing here takes the bus, so nobody who asks or writes ever waits for it.
"""

from __future__ import annotations

from collections.abc import Mapping
from threading import RLock

from firmware_py.layout.electrics import Chip
from firmware_py.pins.bank import Change, Hear, Line
from firmware_py.pins.expanders.naming import described, line_name
from firmware_py.pins.expanders.registers import BOTH_PORTS, Register
from firmware_py.pins.wiring import PinsError


class Lines:
    """The lines of one chip by number, 0 (GPA0) to 15 (GPB7).

    ``silent`` says why the chip does not answer, ``None`` while it does or was not asked yet.
    All methods may be called from any thread; none calls back.
    """

    def __init__(self, chip: Chip) -> None:
        self.chip = chip
        self.silent: str | None = None
        self._lock = RLock()
        self._inputs: dict[int, Line] = {}
        self._outputs = 0
        self._latch = 0
        self._wanted: Mapping[Register, int] | None = None
        self._told: tuple[int, int, int] | None = None

    def add(self, line: int, pull: str, hear: Hear) -> None:
        """Take a line as an input, or change its pull.

        Errors: ``PinsError`` for a line that is an output only.
        """
        if line not in self.chip.inputs:
            raise PinsError(
                f"{described(self.chip)}: line {line} ({line_name(line)}) is an output only; "
                "put the contact on another line, 0 to 6 or 8 to 14"
            )
        with self._lock:
            self._outputs &= ~(1 << line)
            known = self._inputs.get(line)
            if known is None or known.pull != pull or known.hear != hear:
                self._inputs[line] = Line(pull, hear)
            self._forget()

    def remove(self, line: int) -> None:
        """Listen to an input no more. An output is left as it is driven."""
        with self._lock:
            self._inputs.pop(line, None)
            self._forget()

    def drive(self, line: int, level: bool) -> None:
        """Make a line an output, at a level; the scan writes it with all others of the chip."""
        with self._lock:
            self._inputs.pop(line, None)
            self._outputs |= 1 << line
            self._latch = self._latch | 1 << line if level else self._latch & ~(1 << line)
            self._forget()

    def driven(self, line: int) -> bool:
        """The level that an output is to have."""
        return bool(self._latch >> line & 1)

    def level(self, line: int) -> bool | None:
        """The level that an input had in the last scan, ``None`` if it is not known."""
        known = self._inputs.get(line)
        return None if known is None else known.level

    def wanted(self) -> Mapping[Register, int]:
        """What the registers are to be, in the order in which they are written.

        Levels before directions, so that an output never shows another level first. Lines that
        nothing uses are inputs with pull-ups, so that none floats.
        """
        with self._lock:
            if self._wanted is None:
                self._wanted = self._reckon()
            return self._wanted

    @property
    def used(self) -> int:
        """A bit for each line in use."""
        with self._lock:
            return self._outputs | sum(1 << number for number in self._inputs)

    def differs(self, levels: int) -> bool:
        """Whether any input does not stand as was told."""
        with self._lock:
            if self._told is None:
                self._told = self._as_words()
            known, stood, unknown = self._told
            return bool(unknown or (levels ^ stood) & known)

    def take(self, levels: int, at_ns: int) -> list[Change]:
        """Note the levels of a scan; return what changed."""
        with self._lock:
            stand = {number: bool(levels >> number & 1) for number in self._inputs}
            return self._note(stand, at_ns)

    def lose(self, at_ns: int) -> list[Change]:
        """Note that no level is known any more; return which were."""
        with self._lock:
            return self._note(dict.fromkeys(self._inputs), at_ns)

    def _note(self, stand: Mapping[int, bool | None], at_ns: int) -> list[Change]:
        changes: list[Change] = []
        for number, level in stand.items():
            line = self._inputs[number]
            if line.level is not level:
                line.level = level
                line.last_ns = max(line.last_ns, at_ns)
                changes.append((line.last_ns, line, level))
        self._told = None
        return changes

    def _reckon(self) -> Mapping[Register, int]:
        inputs = BOTH_PORTS & ~self._outputs
        pulled = inputs
        for number, line in self._inputs.items():
            if line.pull != "up":
                pulled &= ~(1 << number)
        return {
            Register.IPOL: 0,
            Register.GPINTEN: 0,
            Register.OLAT: self._latch,
            Register.GPPU: pulled,
            Register.IODIR: inputs,
        }

    def _as_words(self) -> tuple[int, int, int]:
        known = stood = unknown = 0
        for number, line in self._inputs.items():
            bit = 1 << number
            if line.level is None:
                unknown |= bit
            else:
                known |= bit
                stood |= bit if line.level else 0
        return known, stood, unknown

    def _forget(self) -> None:
        """Reckon anew when next asked: 200 scans a second should not."""
        self._wanted = self._told = None
