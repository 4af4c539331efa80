"""The engine watching itself: whether pins, queue, core and logbook all move.

One thread asks every two seconds, or oftener where the service manager wants to hear from us
oftener. While all move, the manager's watchdog is fed; when one does not, it is left to starve,
and the service is killed and begun anew. A logbook that can't be written is trouble, but no
reason for that: the lamps are right without it.
"""

from __future__ import annotations

import contextlib
import logging
import os
import threading
from collections.abc import Callable, Iterable
from pathlib import Path
from typing import Protocol

from firmware_py.engine.clock import steady_us
from firmware_py.engine.ports import Checked
from firmware_py.engine.troubles import Reporter, Trouble
from firmware_py.health.record import EngineHealth, Part, boot_id, write

log = logging.getLogger(__name__)

LOOK_EVERY_S = 2.0
TOKEN_WITHIN_US = 6_000_000
"""A check that takes longer to come back through the queue shows that the engine is stuck."""
STUCK_AFTER_US = 20_000_000
"""A logbook that neither commits nor says why for so long is stuck."""
WRITE_WITHIN_S = 0.5


class Manager(Protocol):
    """The service manager that has started us, if one has."""

    @property
    def feed_every_s(self) -> float | None:
        """How often its watchdog wants to be fed; ``None`` if it has none."""

    def tell(self, *words: str) -> bool:
        """Tell it ``KEY=value`` words."""


class Nobody:
    """Started by hand: nobody wants to hear of us."""

    feed_every_s = None

    def tell(self, *words: str) -> bool:
        """Tell nobody."""
        return False


class Heart(Protocol):
    """The engine."""

    @property
    def checked(self) -> Checked | None:
        """The last check that came back."""

    @property
    def drops(self) -> int:
        """Raw readings dropped."""

    @property
    def raised(self) -> int:
        """How often a listener raised."""


class Wires(Protocol):
    """The board."""

    @property
    def alive(self) -> bool:
        """Whether changes are being noticed."""

    def troubles(self) -> Iterable[Trouble]:
        """What went wrong."""


class Fares(Protocol):
    """How the writing goes."""

    @property
    def queued(self) -> int:
        """What is not committed yet."""

    @property
    def last_error(self) -> str | None:
        """Why the latest try failed."""


class Writing(Protocol):
    """The logbook's keeper."""

    @property
    def alive(self) -> bool:
        """Whether its thread runs."""

    def flush(self, timeout: float) -> bool:
        """Wait until all is committed."""

    def health(self) -> Fares:
        """How it goes."""

    def remark(self, text: str) -> None:
        """Take down the engine's own words."""


class Watchman:
    """Owns the watching thread. ``record`` is where the doctor finds how the engine fares."""

    def __init__(  # noqa: PLR0913 - each is something to watch, or a seam
        self,
        engine: Heart,
        board: Wires,
        keeper: Writing,
        *,
        record: Path,
        layout: str,
        simulated: bool,
        manager: Manager | None = None,
        clock_us: Callable[[], int] = steady_us,
    ) -> None:
        self._engine = engine
        self._board = board
        self._keeper = keeper
        self._record = record
        self._layout = layout
        self._simulated = simulated
        self._manager = manager or Nobody()
        self._clock_us = clock_us
        self._reporter = Reporter(keeper.remark)
        self._boot = boot_id()
        self._began_us: int | None = None
        self._wrote_us = clock_us()
        self._hindered: set[str] = set()
        self._stop = threading.Event()
        self._thread = threading.Thread(target=self._run, name="watchman", daemon=True)

    def start(self) -> None:
        """Begin to watch; until ``guarding`` nothing need move yet."""
        self._thread.start()

    def guarding(self) -> None:
        """The session has begun: from now on all must move."""
        self._began_us = self._clock_us()
        self._manager.tell("READY=1", f"STATUS=Guarding {self._layout}")

    def stop(self) -> None:
        """Watch no more. The record goes: that the engine has stopped is in the logbook."""
        self._stop.set()
        if self._thread.is_alive():
            self._thread.join(5.0)
        with contextlib.suppress(OSError):
            self._record.unlink(missing_ok=True)

    def look(self) -> bool:
        """Look once: tell of troubles, leave word, feed the watchdog; whether it was fed."""
        now_us = self._clock_us()
        parts = self._parts(now_us)
        self._reporter.look(self._board.troubles(), now_us)
        self._tell_changes(parts)
        self._leave_word("starting" if self._began_us is None else "guarding", parts)
        if self._began_us is None or not all(part.moves for part in parts):
            return False
        self._manager.tell("WATCHDOG=1")
        return True

    def _run(self) -> None:
        every_s = min(LOOK_EVERY_S, self._manager.feed_every_s or LOOK_EVERY_S)
        while not self._stop.wait(every_s):
            try:
                self.look()
            except Exception:
                # Not fed this time; whatever it was, the next look may go well.
                log.exception("the watchman stumbled")

    def _parts(self, now_us: int) -> tuple[Part, ...]:
        began_us = self._began_us
        if began_us is None:
            return ()
        checked = self._engine.checked or Checked(began_us, began_us)
        queue = now_us - max(checked.put_us, began_us) <= TOKEN_WITHIN_US
        core = now_us - max(checked.core_us, began_us) <= TOKEN_WITHIN_US
        return (
            _part("pins", self._board.alive, "changes of contacts are not being noticed"),
            _part("queue", queue, "what is put into the engine's queue does not come out"),
            _part("core", core, "deadlines are not being served"),
            self._logbook(now_us),
        )

    def _logbook(self, now_us: int) -> Part:
        wrote, error = self._keeper.flush(WRITE_WITHIN_S), self._keeper.health().last_error
        if wrote or error is not None:
            self._wrote_us = now_us
        moves = self._keeper.alive and now_us - self._wrote_us <= STUCK_AFTER_US
        if moves:
            return Part("logbook", True, error)
        return Part("logbook", False, error or "it neither writes nor says why")

    def _tell_changes(self, parts: Iterable[Part]) -> None:
        """Remark a part that stands still, once, and its moving again; keep the status line."""
        hindered = {part.name for part in parts if not part.moves}
        for part in parts:
            if not part.moves and part.name not in self._hindered:
                self._keeper.remark(f"The engine's {part.name} stands still: {part.trouble}.")
            elif part.moves and part.name in self._hindered:
                self._keeper.remark(f"The engine's {part.name} moves again.")
        self._hindered = hindered
        said = [f"{part.name}: {part.trouble}" for part in parts if part.trouble]
        said += self._reporter.standing
        if parts:
            about = "; ".join(said) or "all is well"
            self._manager.tell(f"STATUS=Guarding {self._layout}; {about}")

    def _leave_word(self, state: str, parts: tuple[Part, ...]) -> None:
        record = EngineHealth(
            pid=os.getpid(),
            boot=self._boot,
            at_us=self._clock_us(),
            state=state,
            layout=self._layout,
            simulated=self._simulated,
            parts=parts,
            troubles=self._reporter.standing,
            drops=self._engine.drops,
            raised=self._engine.raised,
            queued=self._keeper.health().queued,
        )
        write(self._record, record)


def _part(name: str, moves: bool, trouble: str) -> Part:
    return Part(name, moves, None if moves else trouble)
