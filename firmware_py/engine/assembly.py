"""Where everything real is put together: the one place that names the engine's neighbours."""

from __future__ import annotations

import threading
from collections.abc import Callable
from dataclasses import dataclass, replace
from pathlib import Path
from random import Random

import sqlalchemy

from firmware_py.core.core import Core
from firmware_py.core.entries import Entry
from firmware_py.engine.clock import steady_us, wall_us
from firmware_py.engine.dialling import Dial
from firmware_py.engine.engine import Engine
from firmware_py.engine.foreman import AutoForeman
from firmware_py.engine.outset import outset_of
from firmware_py.engine.ports import Check, Given, Stop
from firmware_py.engine.requests import Clerk
from firmware_py.engine.resuming import Earlier, may_resume
from firmware_py.engine.schedule import Schedule
from firmware_py.engine.watching import Manager, Watchman
from firmware_py.engine.wires import Wires, take_wires
from firmware_py.health.record import EngineHealth, path_of
from firmware_py.layout.model import Contact, Layout
from firmware_py.layout.pacing import wait_scale_of
from firmware_py.logbook.caring import Caretaker
from firmware_py.logbook.damage import open_or_begin_anew
from firmware_py.logbook.errors import LogbookError
from firmware_py.logbook.requests import Inbox
from firmware_py.logbook.resuming import entries_logged, last_known, layout_toml_of, unended
from firmware_py.logbook.tapes import tape_lines
from firmware_py.logbook.writing import Keeper
from firmware_py.proof.keeping import verdict_path
from firmware_py.proof.verdict import kept, words_on

CHECK_EVERY_S = 2.0
CARE_EVERY_S = 60.0
CAUGHT_UP_WITHIN_S = 0.5
"""A log that is further behind than this is on a slow card: no time to begin a session."""
NEXT_WITHIN_S = 2.0
"""The engine waits no longer for a new session's place in the log; the old one goes on then."""


@dataclass(frozen=True, slots=True)
class Settings:
    """What an engine is started with; ``minutes`` ends the session by itself.

    ``opened`` begins with a session for work, where none goes on; else a host opens one.
    """

    layout: Path
    logbook: str
    simulated: bool
    seed: int | None = None
    minutes: float | None = None
    opened: bool = False


def earlier_session(database: sqlalchemy.Engine, toml: str, now_wall_us: int) -> Earlier | None:
    """The session that a stop has cut off, if it is this evening's and on the same layout."""
    session = unended(database, toml)
    if session is None:
        return None
    last = last_known(database, session)
    if not may_resume(last.wall_us, now_wall_us):
        return None
    tape, logged = tape_lines(database, session), entries_logged(database, session)
    scale = wait_scale_of(layout_toml_of(database, session))
    return Earlier(session, tape, logged, last.opened, scale)


def has_outset(database: sqlalchemy.Engine, session: int) -> bool:
    """Whether a session's tape says how its contacts stood as it began."""
    return "end" not in next(tape_lines(database, session))


class Plant:
    """The engine with its pins, its logbook, its schedule, its clerk and its watchman.

    ``manager`` is the service manager that has started it, if one has. ``wires`` are those that
    were taken before, else they are taken first of all; either way they are given back by this.
    """

    def __init__(
        self, settings: Settings, manager: Manager | None = None, wires: Wires | None = None
    ) -> None:
        wires = wires or take_wires(settings.layout, simulated=settings.simulated)
        try:
            self._put_together(settings, manager, wires)
        except BaseException:
            wires.close()
            raise

    def _put_together(self, settings: Settings, manager: Manager | None, wires: Wires) -> None:
        self._settings = settings
        self._wires = wires
        self.layout: Layout = wires.layout
        self._toml = wires.toml
        self._verdict = kept(verdict_path(settings.logbook), self.layout)
        self._database, anew = open_or_begin_anew(settings.logbook)
        self._keeper = Keeper(self._database)
        if anew is not None:
            self._keeper.remark(anew)
        self._caretaker = Caretaker(self._database, self._keeper.remark, self._keeper.mend)
        self._keeper.pulse("starting")
        self._simulated = wires.simulated
        self._contacts: dict[str, Contact] = {c.name: c for c in self.layout.contacts}
        self.board = wires.board
        self.board.say_rests_to(self._keeper.remark)
        self.listeners: list[Callable[[Entry], None]] = []
        earlier = earlier_session(self._database, self._toml, wall_us())
        self._opened = settings.opened if earlier is None else earlier.opened
        if earlier is not None and not has_outset(self._database, earlier.session):
            earlier = None  # Cut off in its first moment: nobody knows how the contacts stood.
        self._earlier = earlier
        self._dial = Dial(self._database, self._toml, self.layout.wait_scale)
        scale = earlier.wait_scale if earlier else self._dial.scale()
        self.engine = Engine(
            replace(self.layout, wait_scale=scale),
            self.board,
            self._keeper,
            begin=self._begin,
            anew=self._begin_next,
            earlier=self._earlier,
            listeners=self.listeners,
            opened=self._opened,
        )
        self.board.watch(self.engine.put_reading)
        self._schedule = Schedule()
        self._clerk = Clerk(
            self.layout,
            Inbox(self._database),
            self.engine.put,
            self._keeper.answer,
            hand=self.hand if self._simulated else None,
            wall_us=wall_us,
            wait_scale=self._dial.scale,
        )
        self._foreman = AutoForeman(
            self.layout, self._schedule, self.engine.put, self._keeper.remark, Random(settings.seed)
        )
        self.listeners.append(self._foreman.hear)
        self._watchman = Watchman(
            self.engine,
            self.board,
            self._keeper,
            record=path_of(settings.logbook, EngineHealth),
            layout=self.layout.name,
            simulated=settings.simulated,
            manager=manager,
        )
        self.began = threading.Event()
        self._ends = False

    def hand(self, contact: str, made: bool | None) -> None:
        """Make, break or lose a contact, on simulated pins."""
        assert self._simulated is not None, "only simulated contacts have hands of ours"
        self._simulated.hand(self._contacts[contact], made)

    def give(self, given: Given) -> None:
        """Give the engine an order."""
        self.engine.put(given)

    def run(self) -> None:
        """Serve until told to stop."""
        self._clerk.start()
        self._schedule.start()
        self._schedule.every("check", CHECK_EVERY_S, lambda: self.engine.put(Check(steady_us())))
        self._schedule.every("care", CARE_EVERY_S, self._caretaker.check)
        self._watchman.start()
        if self._settings.minutes is not None:
            self._schedule.after("end", self._settings.minutes * 60, self.end_session)
        try:
            ended_us = self.engine.run()
            if ended_us is not None and self._ends:
                self._keeper.remark("The session ended.", ended_us)
                self._keeper.end_session(ended_us)
            elif ended_us is not None:
                self._keeper.remark("The engine was stopped; the session waits.", ended_us)
        except BaseException as error:
            self._keeper.remark(f"The engine failed: {error!r}. Bolts shut, power off, red lit.")
            raise
        finally:
            self._close()

    def stop(self) -> None:
        """Have ``run`` end, the session to be gone on with; a signal handler may call this."""
        self.engine.put(Stop())

    def end_session(self) -> None:
        """Have ``run`` end, and the session with it."""
        self._ends = True
        self.engine.put(Stop())

    def _begin(self, core: Core) -> None:
        self._foreman.scale = core.layout.wait_scale
        if self._earlier is not None:
            self._keeper.resume_session(self._earlier.session)
            self._keeper.remark("The engine is back; the session goes on.", core.now_us)
            self._foreman.go_on(core.foremen(), core.now_us)
        else:
            self._begin_session(core, opened=self._opened)
        self._keeper.pulse("guarding")
        self._watchman.guarding()
        self.began.set()

    def _begin_next(self, core: Core, opened: bool, ended_us: int) -> str | None:
        """Begin a session after another one, if the logbook can be written now."""
        if opened is self._opened:
            return "a session is open already" if opened else "no session is open"
        last, health = self._keeper.session_id, self._keeper.health()
        if health.last_error is not None:
            return f"the logbook can't be written: {health.last_error}"
        if not self._keeper.flush(CAUGHT_UP_WITHIN_S):
            return "the logbook is behind just now; try again in a moment"
        try:
            self._begin_session(core, opened=opened, timeout=NEXT_WITHIN_S)
        except LogbookError as trouble:
            return str(trouble)
        self._opened = opened
        self._keeper.end_session(ended_us, last)
        self._keeper.pulse("guarding")
        self._foreman.forget()
        self._foreman.scale = core.layout.wait_scale
        return None

    def _begin_session(self, core: Core, *, opened: bool, timeout: float = 30.0) -> None:
        settings = self._settings
        self._keeper.begin_session(
            layout_name=self.layout.name,
            layout_path=str(settings.layout),
            layout_toml=self._dial.text(core.layout.wait_scale),
            simulated=settings.simulated,
            outset=outset_of(core),
            opened=opened,
            timeout=timeout,
        )
        self._keeper.remark(words_on(self._verdict), 0)
        said = "The session began." if opened else "Between sessions; the contacts are guarded."
        self._keeper.remark(said, 0)
        dialled = self._dial.says(core.layout.wait_scale)
        if dialled:
            self._keeper.remark(dialled, 0)

    def _close(self) -> None:
        self._watchman.stop()
        self._schedule.stop()
        self._clerk.stop()
        self._wires.close()
        self._keeper.pulse("stopped")
        self._keeper.close()
        self._database.dispose()
