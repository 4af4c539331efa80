"""Whether the scan of a bus keeps up."""

from __future__ import annotations

from firmware_py.pins.trouble import Tally

WEIGHT = 64
"""Over how many scans, about, the mean goes: a third of a second."""


class Pace:
    """The mean time of a scan. Twice what it should take is trouble, until it is well below."""

    __slots__ = ("_mean_ns", "_should_ns", "tally")

    def __init__(self, bus: str, should_ns: int) -> None:
        self.tally = Tally(bus)
        self._should_ns = should_ns
        self._mean_ns = 0.0

    def took(self, taken_ns: int, chips: int) -> None:
        """Note a scan of so many chips that went without a failure."""
        self._mean_ns += (taken_ns - self._mean_ns) / WEIGHT
        if self._mean_ns > 2 * self._should_ns and not self.tally.standing:
            self.tally.failed(
                f"a scan of its {chips} chips takes {self._mean_ns / 1e6:.0f} ms and should take "
                f"{self._should_ns / 1e6:.0f}; set dtparam=i2c_arm_baudrate=400000 in config.txt"
            )
        elif self._mean_ns < 1.5 * self._should_ns and self.tally.standing:
            self.tally.works()
