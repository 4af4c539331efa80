"""What the pins of this room's factories have in common: edges, watchers, no debouncing."""

from __future__ import annotations

from threading import RLock
from typing import Any

from gpiozero.exc import PinInvalidBounce, PinInvalidEdges
from gpiozero.pins import Pin as GpioPin
from gpiozero.pins import PinInfo
from gpiozero.pins.pi import PiFactory, PiPin


class LinePin(PiPin):  # type: ignore[misc]  # gpiozero ships no types
    """A line of a chip, whose changes come from another thread through ``hear``."""

    def __init__(self, factory: PiFactory, info: PinInfo) -> None:
        # PiPin's own constructor takes a BCM number out of the name, and a chip's line has none.
        GpioPin.__init__(self)
        self._factory = factory
        self._info = info
        self._when_changed_lock = RLock()
        self._when_changed: Any = None
        self._edges = "both"

    def hear(self, ticks: int, level: bool | None) -> None:
        """Pass a change on to whoever watches; called by the pin thread only."""
        hook = self._when_changed
        watcher = None if hook is None else hook()
        if watcher is None:
            return
        if self._edges in ("both", "rising" if level else "falling"):
            watcher(ticks, level)

    def _get_bounce(self) -> None:
        return None

    def _set_bounce(self, value: float | None) -> None:
        if value is not None:
            raise PinInvalidBounce(f"{self!r} does not debounce: leave bounce_time unset (None)")

    def _get_edges(self) -> str:
        return self._edges

    def _set_edges(self, value: str) -> None:
        if value not in ("none", "rising", "falling", "both"):
            raise PinInvalidEdges(f'invalid edges "{value}" for pin {self!r}')
        self._edges = value

    def _enable_event_detect(self) -> None:
        """Nothing to do: edges are looked for from the first moment."""

    def _disable_event_detect(self) -> None:
        """Nothing to do: edges nobody listens to are read and dropped."""
