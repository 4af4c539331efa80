"""What stands in for the engine's schedule: the same promises, kept in virtual time."""

from __future__ import annotations

from collections.abc import Callable

from .hub import Hub, Timer

SECOND = 1_000_000


class SimSchedule:
    """Jobs at a time from now, or at regular intervals."""

    def __init__(self, hub: Hub) -> None:
        self._hub = hub
        self._timers: dict[str, Timer] = {}

    def start(self) -> None:
        """Nothing: jobs wait in the hub."""

    def stop(self) -> None:
        self._hub.point()
        self.drop()

    def drop(self) -> None:
        """Forget all jobs."""
        for timer in self._timers.values():
            timer.act = None

    def after(self, name: str, seconds: float, act: Callable[[], None]) -> None:
        self.cancel(name)
        at_us = self._hub.now_us + round(seconds * SECOND)
        self._timers[name] = self._hub.at(at_us, act)

    def every(self, name: str, seconds: float, act: Callable[[], None]) -> None:
        def again() -> None:
            act()
            self.after(name, seconds, again)

        self.after(name, seconds, again)

    def cancel(self, name: str) -> None:
        timer = self._timers.pop(name, None)
        if timer is not None:
            timer.act = None
