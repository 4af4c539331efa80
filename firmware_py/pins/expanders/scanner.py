"""The thread of one bus: it scans all chips on it every few milliseconds, and alone takes it.

A bus has a thread of its own, since one that hangs blocks whoever asked it for up to a second.
"""

from __future__ import annotations

import logging
import time
from collections.abc import Callable
from threading import Condition, Event, RLock, Thread, current_thread

from firmware_py.layout.electrics import Chip
from firmware_py.pins.bank import Change
from firmware_py.pins.expanders.lines import Lines
from firmware_py.pins.expanders.link import Bus, Open
from firmware_py.pins.expanders.pace import Pace
from firmware_py.pins.expanders.tending import Tender
from firmware_py.pins.telling import Teller
from firmware_py.pins.trouble import Tally, Trouble

log = logging.getLogger(__name__)

SCAN_EVERY_NS = 5_000_000
REST_NS = 1_000_000
"""A bus that is slower than its scan still leaves the processor a rest after each."""
HANGS_NS = 100_000_000
"""Nothing on a bus takes so long but a timeout of the kernel's, which hits every chip on it."""
STUCK_NS = 10_000_000_000
SETTLES_IN_S = 5.0
HANGS = "does not answer: the bus hangs; if it stays so, switch the chips' supply off and on"


class Scanner:
    """All chips on one bus that have a line in use.

    With ``threaded`` false nothing happens but in ``step``, for tests on a clock of their own.
    """

    def __init__(
        self,
        name: str,
        open_bus: Open,
        clock_ns: Callable[[], int] = time.monotonic_ns,
        threaded: bool = True,
    ) -> None:
        self._open = open_bus
        self._clock_ns = clock_ns
        self._threaded = threaded
        self._lock = RLock()
        self._bus: Bus | None = None
        self._tenders: tuple[Tender, ...] = ()
        self._turns = 0
        self._passed = Condition()
        self._woken = Event()
        self._stop = Event()
        self._beat_ns = clock_ns()
        self._teller = Teller(f"callbacks of {name}")
        self._stumbles = Tally(f"thread of {name}")
        self._pace = Pace(name, SCAN_EVERY_NS)
        self._thread = Thread(target=self._run, name=name, daemon=True)

    @property
    def alive(self) -> bool:
        """Whether changes are being noticed (or nothing is in use yet)."""
        if self._stop.is_set():
            return False
        if not self._threaded or self._bus is None:
            return True
        return self._thread.is_alive() and self._clock_ns() - self._beat_ns < STUCK_NS

    def lines(self, chip: Chip) -> Lines:
        """The lines of a chip, which is scanned from the first call on.

        Errors: ``PinsError`` if the bus can't be opened.
        """
        with self._lock:
            for tender in self._tenders:
                if tender.lines.chip == chip:
                    return tender.lines
            if self._bus is None:
                self._bus = self._open(chip)
                if self._threaded:
                    self._thread.start()
            lines = Lines(chip)
            tender = Tender(lines, self._bus.link(chip), self._clock_ns)
            self._tenders = (*self._tenders, tender)
            return lines

    def wake(self) -> None:
        """Have outputs written at once."""
        self._woken.set()

    def settle(self) -> None:
        """Wait until every chip that answers has been set up and read."""
        if current_thread() is self._thread:
            return
        if not self._threaded:
            self.step()
            self.step()
            return
        with self._passed:
            # The first to end may have begun before now, the second sets up, the third reads.
            enough = self._turns + 3
            self._passed.wait_for(
                lambda: self._turns >= enough or not self.alive, timeout=SETTLES_IN_S
            )

    def step(self) -> None:
        """Scan all chips once and tell of what changed."""
        changes: list[Change] = []
        began_ns = self._clock_ns()
        try:
            self._scan(changes)
        finally:
            # The lines count these as told, so told they must be.
            self._teller.tell(changes)
            self._beat_ns = self._clock_ns()
            with self._passed:
                self._turns += 1
                self._passed.notify_all()
        if not any(tender.failing for tender in self._tenders):
            self._pace.took(self._beat_ns - began_ns, len(self._tenders))

    def troubles(self) -> tuple[Trouble, ...]:
        """Report what went wrong with chips, callbacks and the thread, counted."""
        tallies = [tender.tally for tender in self._tenders]
        tallies += [self._pace.tally, self._stumbles]
        told = [trouble for tally in tallies for trouble in tally.report()]
        return (*told, *self._teller.troubles())

    def close(self) -> None:
        """Stop the thread, write what outputs were last told, and give the bus back.

        Outputs go on showing that: only a reset or the supply turns them off.
        """
        if self._stop.is_set():
            return
        self._stop.set()
        self._woken.set()
        if self._thread.is_alive() and current_thread() is not self._thread:
            self._thread.join(timeout=5.0)
        if self._bus is None or (self._thread.is_alive() and current_thread() is not self._thread):
            return  # Still in the kernel's hands; closing under it would help nobody.
        for tender in self._tenders:
            tender.write()
        self._bus.close()

    def _scan(self, changes: list[Change]) -> None:
        tenders = self._tenders
        if not tenders:
            return
        first = self._turns % len(tenders)
        for tender in (*tenders[first:], *tenders[:first]):
            began_ns = self._clock_ns()
            changes += tender.scan()
            if tender.failing and self._clock_ns() - began_ns > HANGS_NS:
                for other in tenders:
                    changes += other.give_up(HANGS)
                return
        # One register of one chip in each scan: each chip's all once in a fifth of a second or so.
        changes += tenders[first].check()

    def _write(self) -> None:
        changes: list[Change] = []
        try:
            for tender in self._tenders:
                changes += tender.write()
        finally:
            self._teller.tell(changes)

    def _run(self) -> None:
        due_ns = self._clock_ns()
        while not self._stop.is_set():
            try:
                if self._clock_ns() < due_ns:
                    self._write()
                else:
                    self.step()
                    due_ns = max(due_ns + SCAN_EVERY_NS, self._clock_ns() + REST_NS)
            except Exception as error:
                # Every contact on the bus would go silent with the thread, so it goes on; the
                # pause keeps a lasting failure from taking all of a core.
                self._stumbles.failed(error)
                log.exception("the scan of a bus stumbled")
                self._stop.wait(0.1)
            self._woken.wait(max(0, due_ns - self._clock_ns()) / 1_000_000_000)
            self._woken.clear()
