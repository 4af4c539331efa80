"""GPIO chips of the kernel's ``gpio-sim``, and hands that pull their lines.

The interface is the kernel's own: Documentation/admin-guide/gpio/gpio-sim.rst.
"""

from __future__ import annotations

import contextlib
import os
import select
import threading
import time
from pathlib import Path
from typing import Self

import gpiod

CONFIG = Path("/sys/kernel/config/gpio-sim")
DEVICES = Path("/sys/devices/platform")
HEADER_LABEL = "pinctrl-sim"
"""Begins as the labels of Raspberry Pi headers do, so that it is taken for one."""
UP, DOWN = b"pull-up", b"pull-down"
WITHIN_S = 20.0


class SimChip:
    """A pretended GPIO chip with ``lines`` lines, there until ``close``.

    A contact to ground is closed by ``hold(line, True)``. A request with a pull-up sets every
    line that it takes high, as if nothing were wired to it; so a thread holds each line anew, as
    a wire would, within moments of each request. Lines that were never held are pulled down once
    nobody drives them, as outputs are on a board built as hardware_docs has it.
    """

    def __init__(self, name: str, lines: int, label: str) -> None:
        self.name = name
        self.lines = lines
        self._config = CONFIG / name
        bank = self._config / "bank0"
        bank.mkdir(parents=True)
        (bank / "num_lines").write_text(str(lines))
        (bank / "label").write_text(label)
        self._held: dict[int, bool] = {}
        self._lock = threading.Lock()
        self._folder = Path()
        self._pulls: dict[int, int] = {}
        self._wires: _Wires | None = None
        self.go_live()

    def __enter__(self) -> Self:
        return self

    def __exit__(self, *_: object) -> None:
        self.close()

    @property
    def folder(self) -> Path:
        """The kernel's folder of it, with one for each line."""
        return self._folder

    @property
    def path(self) -> str:
        """Where its character device is."""
        return f"/dev/{self._folder.name}"

    def go_live(self) -> None:
        """Have the chip appear, its contacts held as before."""
        (self._config / "live").write_text("1")
        device = (self._config / "dev_name").read_text().strip()
        chip = (self._config / "bank0" / "chip_name").read_text().strip()
        with self._lock:
            self._folder = DEVICES / device / chip
        _until(lambda: os.path.exists(self.path), f"{self.path} did not appear")
        with self._lock:
            self._pulls = {
                line: os.open(self._folder / f"sim_gpio{line}" / "pull", os.O_WRONLY)
                for line in range(self.lines)
            }
        self._wires = _Wires(self)
        for line in [*self._held]:
            self._put(line)

    def go_away(self) -> None:
        """Have the chip disappear, as one whose supply fails."""
        if self._wires is not None:
            self._wires.stop()
            self._wires = None
        with self._lock:
            for pull in self._pulls.values():
                os.close(pull)
            self._pulls.clear()
        (self._config / "live").write_text("0")

    def close(self) -> None:
        """Take the chip away for good."""
        if self._wires is not None:
            self.go_away()
        (self._config / "bank0").rmdir()
        self._config.rmdir()

    def hold(self, line: int, closed: bool) -> None:
        """Close a contact to ground, or open it."""
        self._held[line] = closed
        self._put(line)

    def value(self, line: int) -> bool:
        """Whether a line is high, as the kernel sees it."""
        return (self._folder / f"sim_gpio{line}" / "value").read_text().strip() == "1"

    def value_file(self, line: int) -> Path:
        """Where a line's value can be read."""
        return self._folder / f"sim_gpio{line}" / "value"

    def in_use(self, line: int) -> str:
        """Who has requested a line; an empty text if nobody has."""
        with gpiod.Chip(self.path) as chip:
            info = chip.get_line_info(line)
            return (info.consumer or "?") if info.used else ""

    def _put(self, line: int) -> None:
        with self._lock, contextlib.suppress(OSError):
            if line in self._pulls and line in self._held:
                self.pull(line, DOWN if self._held[line] else UP)

    def pull(self, line: int, word: bytes) -> None:
        """Pull a line with as little ado as can be: ``UP`` or ``DOWN``."""
        os.pwrite(self._pulls[line], word, 0)


class _Wires:
    """Holds a chip's lines as they are wired whenever a request has pulled them up."""

    def __init__(self, sim: SimChip) -> None:
        self._sim = sim
        self._stop = threading.Event()
        self._chip = gpiod.Chip(sim.path)
        for line in range(sim.lines):
            self._chip.watch_line_info(line)
        self._thread = threading.Thread(target=self._run, name="wires", daemon=True)
        self._thread.start()

    def stop(self) -> None:
        self._stop.set()
        self._thread.join()
        self._chip.close()

    def _run(self) -> None:
        poll = select.poll()
        poll.register(self._chip.fd, select.POLLIN)
        while not self._stop.is_set():
            if not poll.poll(100):
                continue
            with contextlib.suppress(OSError):
                event = self._chip.read_info_event()
                if event.event_type is not gpiod.InfoEvent.Type.LINE_RELEASED:
                    self._sim._put(event.line_info.offset)


def _until(true: object, why: str) -> None:
    assert callable(true)
    end_s = time.monotonic() + WITHIN_S
    while not true():
        assert time.monotonic() < end_s, why
        time.sleep(0.01)
