"""Doing what the script says."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from functools import partial
from typing import TYPE_CHECKING

from firmware_py.engine.ports import Given
from firmware_py.logbook.errors import LogbookError
from firmware_py.logbook.requests import leave_hand, leave_order

from .hub import BEGAN_US
from .steps import (
    Act,
    Chatter,
    Flood,
    Hand,
    Kill,
    Lose,
    Move,
    Raise,
    Restart,
    Say,
    Stall,
    Step,
    StepWall,
    Stick,
    Trouble,
)
from .steps import Disk as DiskTrouble

if TYPE_CHECKING:
    from .session import Session

READINGS = 1_001
"""An odd number, so that some contact ends where it was not."""


class Acting:
    """Does a session's steps at their times."""

    def __init__(self, session: Session) -> None:
        self._session = session
        self._hub = session.hub
        self._world = session.world

    def schedule(self, steps: Iterable[Step]) -> None:
        """Have each step done when its time comes."""
        for step in steps:
            self._hub.at(BEGAN_US + step.at_us, partial(self.do, step.act))

    def do(self, act: Act) -> None:
        """Do one step now."""
        met = self._session.met
        match act:
            case Move():
                self._move(act)
            case Say():
                self._say(act)
            case Hand():
                self._leave(act)
            case Lose():
                self._world.lose(act.contacts)
                self._later(act.for_us, lambda: self._world.find(act.contacts))
            case Stick():
                self._world.stick(act.contact)
                self._later(act.for_us, lambda: self._world.free(act.contact))
                met.add("contact stuck")
            case Chatter():
                for number in range(act.edges):
                    self._later(number * act.apart_us, lambda: self._toggle(act.contact))
            case Flood():
                self._flood(act)
            case DiskTrouble():
                self._spoil(act)
            case Stall():
                self._stall(act)
            case Kill():
                self._kill(act)
            case Restart():
                self._restart(act)
            case StepWall():
                self._hub.wall_offset_us += act.by_us
                met.add("wall clock set back" if act.by_us < 0 else "wall clock set forward")
            case Raise():
                self._session.raises += act.times

    def _later(self, after_us: int, act: Callable[[], object]) -> None:
        self._hub.at(self._hub.now_us + after_us, act)

    def _move(self, act: Move) -> None:
        at_us, made = 0, act.made
        for gap_us in act.bounces_us:
            for level in (made, not made):
                self._move_later(at_us, act, level)
                at_us += gap_us
        self._move_later(at_us, act, made)
        if act.late_us:
            self._session.met.add("edges handed over late")

    def _move_later(self, after_us: int, act: Move, made: bool) -> None:
        self._later(after_us, lambda: self._world.move(act.contact, made, act.late_us))

    def _toggle(self, contact: str, stamp_us: int | None = None) -> None:
        made = not self._world.stands(contact)
        self._world.move(contact, made, stamp_us=stamp_us)

    def _flood(self, act: Flood) -> None:
        """All of them come at once, as they do after the machine was busy for a millisecond."""
        now_us = self._hub.now_us
        for number in range(READINGS):
            contact = act.contacts[number % len(act.contacts)]
            self._toggle(contact, stamp_us=now_us - READINGS + number)
        self._session.met.add("flood")

    def _say(self, act: Say) -> None:
        plant = self._session.plant
        if act.by_request:
            self._leave(act)
        elif plant is not None:
            plant.give(Given(act.order))

    def _leave(self, act: Say | Hand) -> None:
        """Leave a request at the board; with the database in trouble the board says so."""
        screen = self._session.disk.screen
        wall_us = self._hub.now_us + self._hub.wall_offset_us
        try:
            if isinstance(act, Hand):
                leave_hand(screen, act.contact, act.made, wall_us)
            else:
                order = act.order
                leave_order(
                    screen,
                    order.command.value,
                    spur=order.spur,
                    violation=order.violation,
                    cars=order.cars,
                    wall_us=wall_us,
                )
            self._session.met.add("request left")
        except LogbookError:
            self._session.met.add("request could not be left")

    def _spoil(self, act: DiskTrouble) -> None:
        disk = self._session.disk
        disk.trouble = act.trouble

        def mend(trouble: Trouble = act.trouble) -> None:
            if disk.trouble is trouble:
                disk.trouble = None

        self._later(act.for_us, mend)

    def _stall(self, act: Stall) -> None:
        life = self._session.life
        if life is not None:
            until_us = self._hub.now_us + act.for_us
            for task in life.tasks[:1] if act.engine else life.tasks[1:]:
                task.asleep_until_us = until_us
            self._session.met.add("engine stalled" if act.engine else "logbook stalled")

    def _kill(self, act: Kill) -> None:
        life = self._session.life
        if life is None:
            return
        self._session.back_after_us = act.back_after_us
        if act.at_commit:
            life.dies_at_commit = True
            self._session.met.add("killed at a commit")
        elif act.after:
            life.dies_in = act.after
            self._session.met.add("killed between two steps")
        else:
            self._hub.kill(life)
            self._session.met.add("killed while waiting")

    def _restart(self, act: Restart) -> None:
        plant = self._session.plant
        if plant is not None:
            self._session.back_after_us = act.back_after_us
            plant.stop()
            self._session.met.add("stopped by hand")
