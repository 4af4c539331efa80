"""Talks with one chip: sets it up, scans it, writes its outputs, and notices what befell it."""

from __future__ import annotations

import errno
from collections.abc import Callable
from itertools import cycle

from firmware_py.pins.bank import Change
from firmware_py.pins.expanders.lines import Lines
from firmware_py.pins.expanders.link import ChipSilentError, Link, in_words
from firmware_py.pins.expanders.registers import BOTH_PORTS, Register, twice
from firmware_py.pins.trouble import Tally

LOST_AFTER_NS = 20_000_000
"""How long a chip may fail before its contacts are unknown: as long as a contact settles. Shorter
bursts of noise on the bus are counted and cost no more than the delay.
"""
LOST_AFTER_TIMES = 4
"""And how often in a row, since on a busy machine two scans may be as far apart as that."""

TRY_AGAIN_NS = 250_000_000
"""How often a chip that does not answer is tried."""

LOST_SETTINGS = "lost its settings and was set up again; look after its 3.3 V supply"
NOISE = "answered only when it was asked again; look after the bus and its wires"
CHECKED = (Register.IOCON, Register.IODIR, Register.GPPU, Register.IPOL, Register.OLAT)


class SettingsLostError(OSError):
    """The chip answers, but is not set up as it was: its supply dipped, or it was reset."""

    def __init__(self, register: Register) -> None:
        super().__init__(errno.EIO, f"{register.name} is not as it was written")


class Tender:
    """One chip and the way to it. For one thread, except ``tally`` which may be read from any."""

    def __init__(self, lines: Lines, link: Link, clock_ns: Callable[[], int]) -> None:
        self.lines = lines
        self.tally = Tally(f"chip {lines.chip.id}")
        self.up = False
        self._link = link
        self._clock_ns = clock_ns
        self._written: dict[Register, int] = {}
        self._failing_since_ns: int | None = None
        self._failures = 0
        self._due_ns = 0
        self._checks = cycle(CHECKED)

    @property
    def failing(self) -> bool:
        """Whether its last turn failed."""
        return not self.up or self._failing_since_ns is not None

    def scan(self) -> list[Change]:
        """Write what is to be written, read all lines; return what changed.

        A change is believed only once the chip has shown that it is still set up, since without
        its pull-ups its lines say nothing.
        """
        if not self.up:
            self._try()
            return []
        return self._guarded(self._scan)

    def write(self) -> list[Change]:
        """Write the outputs if any is to change; return what was lost if the chip is."""
        return self._guarded(self._write_only) if self.up else []

    def check(self) -> list[Change]:
        """Compare the next of the chip's settings with what was written."""
        return [] if self.failing else self._guarded(self._check)

    def give_up(self, why: str) -> list[Change]:
        """Take the chip as gone for now; return which contacts are unknown by that."""
        self._note(why)
        self.up = False
        self._failing_since_ns = None
        self._due_ns = self._clock_ns() + TRY_AGAIN_NS
        return self.lines.lose(self._clock_ns())

    def _guarded(self, work: Callable[[], list[Change]]) -> list[Change]:
        began_ns = self._clock_ns()
        try:
            changes = work()
        except SettingsLostError:
            return self._set_up_again()
        except OSError as error:
            return self._failed(error, began_ns)
        if self._failing_since_ns is not None:
            self._failing_since_ns = None
            self.tally.failed(NOISE)
            self.tally.works()
        return changes

    def _scan(self) -> list[Change]:
        if self._bring_up_to_date():
            # Pull-ups that were just turned on need a moment to charge a long lead.
            return []
        levels = self._link.levels()
        at_ns = self._clock_ns()
        if not self.lines.differs(levels):
            return []
        self._compare(Register.IOCON)
        return self.lines.take(levels, at_ns)

    def _write_only(self) -> list[Change]:
        self._bring_up_to_date()
        return []

    def _check(self) -> list[Change]:
        self._compare(next(self._checks))
        return []

    def _bring_up_to_date(self) -> bool:
        """Write registers that are to change; say whether a line became an input or an output."""
        wanted = self.lines.wanted()
        if wanted == self._written:
            return False
        turned = False
        for register, value in wanted.items():
            if self._written.get(register) != value:
                self._link.write(register, value)
                self._written[register] = value
                turned |= register is not Register.OLAT
        return turned

    def _compare(self, register: Register) -> None:
        if register is Register.IOCON:
            wrong = self._link.read(register) ^ twice(self._link.config)
        else:
            wrong = (self._link.read(register) ^ self._written[register]) & self.lines.used
        if wrong & BOTH_PORTS:
            raise SettingsLostError(register)

    def _try(self) -> None:
        if self._clock_ns() < self._due_ns:
            return
        try:
            self._set_up()
        except OSError as error:
            self._note(f"does not answer: {in_words(error)}")
            self._due_ns = self._clock_ns() + TRY_AGAIN_NS
        else:
            self.up = True
            self.lines.silent = None
            self.tally.works()

    def _set_up(self) -> None:
        self._link.configure()
        self._written = {}
        self._bring_up_to_date()
        self._link.levels()
        for register in CHECKED:
            try:
                self._compare(register)
            except SettingsLostError as error:
                kind = self.lines.chip.kind.value.upper()
                raise ChipSilentError(f"what answers there is no {kind}, or is broken") from error

    def _set_up_again(self) -> list[Change]:
        changes = self.give_up(LOST_SETTINGS)
        self._due_ns = 0
        self._try()
        return changes

    def _failed(self, error: OSError, began_ns: int) -> list[Change]:
        if self._failing_since_ns is None:
            self._failing_since_ns, self._failures = began_ns, 0
        self._failures += 1
        lasted_ns = self._clock_ns() - self._failing_since_ns
        if lasted_ns < LOST_AFTER_NS or self._failures < LOST_AFTER_TIMES:
            return []
        return self.give_up(f"does not answer: {in_words(error)}")

    def _note(self, why: str) -> None:
        self.lines.silent = why
        if self.tally.standing:
            self.tally.why = why
        else:
            self.tally.failed(why)
