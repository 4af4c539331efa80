"""The automatic foreman: he answers an asking crew after a while, as a busy man would."""

from __future__ import annotations

from collections.abc import Callable
from random import Random
from typing import Protocol

from firmware_py.core.entries import Entry, ForemanEntry
from firmware_py.core.names import Command, Foreman
from firmware_py.core.orders import Order
from firmware_py.engine.ports import Given
from firmware_py.layout.model import ForemanKind, Layout


class Later(Protocol):
    """The schedule, as far as the foreman needs it."""

    def after(self, name: str, seconds: float, act: Callable[[], None]) -> None:
        """Do something once, later."""

    def cancel(self, name: str) -> None:
        """Forget it."""


class AutoForeman:
    """Hears the entries and schedules a release for each spur whose foreman is automatic.

    The delay is drawn evenly from the layout's range and told to ``remark``.
    """

    def __init__(
        self,
        layout: Layout,
        schedule: Later,
        give: Callable[[Given], None],
        remark: Callable[[str, int], None],
        random: Random,
    ) -> None:
        self._spurs = {s.id: s for s in layout.spurs if s.foreman is ForemanKind.AUTO}
        self._schedule = schedule
        self._give = give
        self._remark = remark
        self._random = random

    def hear(self, entry: Entry) -> None:
        """Take an entry of the engine's."""
        if not isinstance(entry, ForemanEntry) or entry.spur not in self._spurs:
            return
        job = f"foreman of {entry.spur}"
        if entry.foreman is Foreman.ASKED:
            spur = self._spurs[entry.spur]
            seconds = self._random.uniform(*spur.foreman_us) / 1_000_000
            self._remark(f"{spur.name}: the foreman will answer in {seconds:.1f} s", entry.t_us)
            self._schedule.after(job, seconds, lambda: self._release(entry.spur))
        elif entry.foreman is not Foreman.HELD:
            self._schedule.cancel(job)

    def _release(self, spur: str) -> None:
        self._give(Given(Order(Command.RELEASE, spur)))
