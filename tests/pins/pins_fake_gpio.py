"""A stand-in for the kernel's GPIO devices, behind the seam of ``firmware_py.pins.kernel``.

It keeps to what the kernel's uAPI documentation and gpiod 2.5.0's source say: at most 64 lines in
a request, lines are exclusive (EBUSY), edge numbers count from 1 within a request, the event
buffer drops its oldest edge when full, a chip that is gone answers ENODEV, and reading without an
edge gives none.
"""

import errno
import os
import threading
import time
from collections import deque

import gpiod
from gpiod.line import Bias, Clock, Direction, Edge, Value

from firmware_py.pins.kernel import Kernel
from firmware_py.pins.records import RISING, LineEvent

MOST_LINES = 64
FALLING = 2


class FakeRequest:
    def __init__(
        self, chip: "FakeChip", settings: dict[int, gpiod.LineSettings], buffer: int
    ) -> None:
        self.chip = chip
        self.settings = settings
        self.events: deque[LineEvent] = deque(maxlen=buffer)
        self.seqno = 0
        self.released = False
        self.fd = os.eventfd(0, os.EFD_NONBLOCK | os.EFD_SEMAPHORE)

    def edge(self, offset: int, level: bool, at_ns: int) -> None:
        self.seqno += 1
        full = len(self.events) == self.events.maxlen
        self.events.append((at_ns, RISING if level else FALLING, offset, self.seqno, self.seqno))
        if not full:
            os.eventfd_write(self.fd, 1)

    def read_edges(self) -> list[LineEvent]:
        with self.chip.lock:
            self._check()
            if not self.events:
                return []
            events = []
            while self.events and len(events) < 64:
                os.eventfd_read(self.fd)
                events.append(self.events.popleft())
            return events

    def get_values(self, lines: list[int]) -> list[Value]:
        with self.chip.lock:
            self._check()
            self.chip.reads += 1
            return [Value.ACTIVE if self.chip.levels[line] else Value.INACTIVE for line in lines]

    def set_level(self, level: bool) -> None:
        with self.chip.lock:
            self._check()
            ((offset, setting),) = self.settings.items()
            if setting.direction is not Direction.OUTPUT:
                raise OSError(errno.EPERM, "Operation not permitted")
            self.chip.set_output(offset, level)

    def release(self) -> None:
        with self.chip.lock:
            if not self.released:
                self.released = True
                self.chip.requests.remove(self)
                os.close(self.fd)

    def _check(self) -> None:
        if self.released:
            raise gpiod.RequestReleasedError
        if self not in self.chip.live:
            raise OSError(errno.ENODEV, "No such device")


class FakeChip:
    def __init__(self, name: str, label: str, lines: int) -> None:
        self.name, self.label, self.lines = name, label, lines
        self.present = True
        self.levels = [True] * lines
        self.requests: list[FakeRequest] = []
        self.live: list[FakeRequest] = []
        self.history: list[tuple[int, bool]] = []
        self.made = 0
        self.reads = 0
        self.lock = threading.RLock()

    @property
    def edges(self) -> list[FakeRequest]:
        return [r for r in self.live if any(_has_edges(s) for s in r.settings.values())]

    def pull(self, offset: int, level: bool, at_ns: int | None = None) -> None:
        """Set an input, as the outside world does."""
        with self.lock:
            if self.levels[offset] is level:
                return
            self.levels[offset] = level
            for request in self.edges:
                if offset in request.settings and not request.released:
                    request.edge(offset, level, time.monotonic_ns() if at_ns is None else at_ns)

    def pull_silently(self, offset: int, level: bool) -> None:
        """Set an input with an edge that the driver misses."""
        with self.lock:
            self.levels[offset] = level

    def drop_edge(self) -> None:
        """Lose an edge that was numbered already."""
        with self.lock:
            for request in self.edges:
                request.seqno += 1

    def set_output(self, offset: int, level: bool) -> None:
        self.levels[offset] = level
        self.history.append((offset, level))

    def die(self) -> None:
        with self.lock:
            self.present = False
            self.live = []

    def come_back(self) -> None:
        with self.lock:
            self.present = True


class FakeDevices:
    def __init__(self, *chips: FakeChip) -> None:
        self.chips = chips
        self.buffers: list[int | None] = []
        self.links: dict[str, FakeChip] = {}

    def paths(self) -> list[str]:
        found = [f"/dev/{chip.name}" for chip in self.chips if chip.present]
        return [*found, *self.links]

    def info(self, path: str) -> gpiod.ChipInfo:
        chip = self._chip(path)
        return gpiod.ChipInfo(name=chip.name, label=chip.label, num_lines=chip.lines)

    def request_lines(
        self, path: str, settings: dict[int, gpiod.LineSettings], event_buffer: int | None
    ) -> FakeRequest:
        chip = self._chip(path)
        with chip.lock:
            if len(settings) > MOST_LINES or max(settings) >= chip.lines:
                raise OSError(errno.EINVAL, "Invalid argument")
            if any(offset in held.settings for held in chip.requests for offset in settings):
                raise OSError(errno.EBUSY, "Device or resource busy")
            for offset, setting in settings.items():
                assert setting.event_clock is Clock.MONOTONIC
                assert not setting.active_low
                if setting.direction is Direction.OUTPUT:
                    chip.set_output(offset, bool(setting.output_value))
                else:
                    assert setting.edge_detection is Edge.BOTH
                    assert setting.bias in (Bias.PULL_UP, Bias.PULL_DOWN, Bias.DISABLED)
            request = FakeRequest(chip, dict(settings), event_buffer or 16 * len(settings))
            chip.made += 1
            chip.requests.append(request)
            chip.live.append(request)
            self.buffers.append(event_buffer)
            return request

    def _chip(self, path: str) -> FakeChip:
        for chip in self.chips:
            if path == f"/dev/{chip.name}" and chip.present:
                return chip
        if path in self.links:
            return self.links[path]
        raise OSError(errno.ENOENT, "No such file or directory")


def _has_edges(setting: gpiod.LineSettings) -> bool:
    return setting.edge_detection is Edge.BOTH


def kernel_of(*chips: FakeChip) -> Kernel:
    return Kernel(FakeDevices(*chips))


def header_chip() -> FakeChip:
    return FakeChip("gpiochip0", "pinctrl-bcm2711", 58)
