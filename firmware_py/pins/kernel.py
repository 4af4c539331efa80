"""A thin seam over the ``gpiod`` package: the few calls that this room makes, and no more.

Tests put a fake in place of ``CharacterDevices``; the settings that go through it are gpiod's own.
"""

from __future__ import annotations

import errno
import glob
import os
from collections.abc import Iterable, Mapping
from typing import Protocol

import gpiod
from gpiod.line import Bias, Clock, Direction, Edge, Value

from firmware_py.pins.records import LineEvent, read_edges, set_level
from firmware_py.pins.wiring import NoHeaderError, PinsError

HEADER = "pinctrl-*"
"""The key of the chip behind the Pi's header: the one whose label begins so, on every model."""

LINES_IN_REQUEST = 64
"""The kernel's own limit (GPIO_V2_LINES_MAX)."""

EVENT_BUFFER = 1024
"""Edges the kernel keeps for one request until they are read; the most it grants (64 x 16)."""

CONSUMER = "spurlock"
NO_FILE = -1

Settings = Mapping[int, gpiod.LineSettings]

BIASES = {"up": Bias.PULL_UP, "down": Bias.PULL_DOWN, "floating": Bias.DISABLED}


class Request(Protocol):
    """What is used of gpiod's line request. Every call may raise ``OSError``."""

    @property
    def fd(self) -> int:
        """What to wait on for edges."""

    def read_edges(self) -> Iterable[LineEvent]:
        """Read edges, none where there are none; never blocks."""

    def get_values(self, lines: Iterable[int]) -> list[Value]:
        """Read the levels of these lines, in their order."""

    def set_level(self, level: bool) -> None:
        """Set the level of the one line that was requested."""

    def release(self) -> None:
        """Give the lines back."""


class Devices(Protocol):
    """The character devices of this machine."""

    def paths(self) -> list[str]:
        """List the paths of all GPIO chips."""

    def info(self, path: str) -> gpiod.ChipInfo:
        """Look at a chip; ``OSError`` if it can't be opened."""

    def request_lines(self, path: str, settings: Settings, event_buffer: int | None) -> Request:
        """Request lines by offset; ``OSError`` if the kernel refuses."""


class CharacterDevices:
    """The real ones, under ``/dev``."""

    def paths(self) -> list[str]:
        """List the paths of all GPIO chips, in order of their numbers."""
        found = (path for path in glob.glob("/dev/gpiochip*") if gpiod.is_gpiochip_device(path))
        return sorted(found, key=lambda path: (len(path), path))

    def info(self, path: str) -> gpiod.ChipInfo:
        """Read a chip's name, label and number of lines; ``OSError`` if it can't be opened."""
        with gpiod.Chip(path) as chip:
            return chip.get_info()

    def request_lines(self, path: str, settings: Settings, event_buffer: int | None) -> Request:
        """Request lines; ``OSError`` if the kernel refuses."""
        return _RealRequest(
            gpiod.request_lines(
                path,
                config={(offset,): setting for offset, setting in settings.items()},
                consumer=CONSUMER,
                event_buffer_size=event_buffer,
            )
        )


class _RealRequest:
    """gpiod's request; what a lamp waits for goes straight to the kernel."""

    __slots__ = ("_request", "fd")

    def __init__(self, request: gpiod.LineRequest) -> None:
        self._request = request
        self.fd = request.fd
        os.set_blocking(self.fd, False)

    def read_edges(self) -> Iterable[LineEvent]:
        try:
            return read_edges(self.fd)
        except BlockingIOError:
            return ()

    def get_values(self, lines: Iterable[int]) -> list[Value]:
        return self._request.get_values(list(lines))

    def set_level(self, level: bool) -> None:
        set_level(self.fd, level)

    def release(self) -> None:
        self.fd = NO_FILE  # The number may be another file's at once.
        self._request.release()


class ChipAbsentError(OSError):
    """No such chip answers now; it may come back."""


def no_header(error: ChipAbsentError) -> NoHeaderError:
    """Say that a machine has no header pins to begin with, which no waiting will mend."""
    return NoHeaderError(
        f"this machine shows no Raspberry Pi header: {error.strerror}; check that this is a Pi "
        "and that this user is in the group gpio, or run with simulated pins"
    )


class Kernel:
    """Finds chips and requests lines with the settings that Spurlock needs."""

    def __init__(self, devices: Devices | None = None) -> None:
        self._devices: Devices = devices or CharacterDevices()

    def find(self, chip: str) -> tuple[str, int]:
        """Find the path and number of lines of a chip, by label or name, or ``HEADER``.

        Errors: ``ChipAbsentError`` if none answers, ``PinsError`` if several carry the label.
        """
        found: dict[str, tuple[str, gpiod.ChipInfo]] = {}
        refused = []
        for path in self._devices.paths():
            try:
                info = self._devices.info(path)
            except OSError as error:
                refused.append(f"{path}: {error.strerror or error}")
                continue
            # Older names are kept as links to the same chip, hence by name.
            found.setdefault(info.name, (path, info))
        fits = [(path, info) for path, info in found.values() if _is(chip, info)]
        if len(fits) == 1:
            return fits[0][0], fits[0][1].num_lines
        if fits:
            names = ", ".join(sorted(info.name for _, info in fits))
            raise PinsError(f'several GPIO chips are "{chip}": {names}; give one of these names')
        have = ", ".join(f"{info.name} [{info.label}]" for _, info in found.values()) or "none"
        could_not = f"; could not look at {', '.join(refused)}" if refused else ""
        raise ChipAbsentError(
            errno.ENODEV, f'no GPIO chip "{chip}" here (there are: {have}){could_not}'
        )

    def inputs(self, path: str, pulls: Mapping[int, str]) -> Request:
        """Request inputs with both edges and kernel monotonic times; ``pulls`` by offset."""
        settings = {
            offset: gpiod.LineSettings(
                direction=Direction.INPUT,
                edge_detection=Edge.BOTH,
                bias=BIASES[pull],
                event_clock=Clock.MONOTONIC,
            )
            for offset, pull in pulls.items()
        }
        return self._devices.request_lines(path, settings, EVENT_BUFFER)

    def output(self, path: str, offset: int, level: bool) -> Request:
        """Request one output that is at ``level`` from its first moment."""
        setting = gpiod.LineSettings(direction=Direction.OUTPUT, output_value=value_of(level))
        return self._devices.request_lines(path, {offset: setting}, None)


def value_of(level: bool) -> Value:
    """Put a level as gpiod has it; lines are active-high throughout, so active means high."""
    return Value.ACTIVE if level else Value.INACTIVE


def _is(chip: str, info: gpiod.ChipInfo) -> bool:
    if chip == HEADER:
        return info.label.startswith(HEADER[:-1])
    return chip in (info.name, info.label)
