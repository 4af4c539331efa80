"""The automatic foreman: he answers an asking crew after a while, as a busy man would."""

from __future__ import annotations

from collections.abc import Callable, Mapping
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

    The delay is drawn evenly from the layout's range, times ``scale``, and told to ``remark``.
    """

    scale = 1.0
    """The pace dial of the session that goes on; set on the engine's thread."""

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
        self._awaited: dict[str, object] = {}

    def hear(self, entry: Entry) -> None:
        """Take an entry of the engine's."""
        if not isinstance(entry, ForemanEntry) or entry.spur not in self._spurs:
            return
        if entry.foreman is Foreman.ASKED:
            self._answer_later(entry.spur, entry.t_us)
        elif entry.foreman is not Foreman.HELD:
            self._cancel(entry.spur)

    def go_on(self, foremen: Mapping[str, Foreman], t_us: int) -> None:
        """A session goes on: crews who waited as the engine went still want an answer."""
        for spur, says in foremen.items():
            if spur in self._spurs and says in (Foreman.ASKED, Foreman.HELD):
                self._answer_later(spur, t_us)

    def forget(self) -> None:
        """A new session begins, in which nobody has asked yet."""
        for spur in self._spurs:
            self._cancel(spur)

    def _answer_later(self, ident: str, t_us: int) -> None:
        spur = self._spurs[ident]
        seconds = self._random.uniform(*spur.foreman_us) * self.scale / 1_000_000
        self._remark(f"{spur.name}: the foreman will answer in {seconds:.1f} s", t_us)
        self._awaited[ident] = asked = object()
        self._schedule.after(_job(ident), seconds, lambda: self._release(ident, asked))

    def _cancel(self, spur: str) -> None:
        self._awaited.pop(spur, None)
        self._schedule.cancel(_job(spur))

    def _release(self, spur: str, asked: object) -> None:
        # An answer on its way to the engine can't be cancelled; it is dropped as it gets there.
        order = Order(Command.RELEASE, spur)
        self._give(Given(order, still=lambda: self._awaited.get(spur) is asked))


def _job(spur: str) -> str:
    return f"foreman of {spur}"
