"""Edges and levels as the kernel itself writes and takes them, for the way from contact to lamp.

gpiod asks for lines and looks at chips; but it makes six objects of each edge and a list of each
level, which is half of the time that a lamp has. The layouts and numbers are those of the kernel's
user-space interface, ``linux/gpio.h``, version 2: fixed for good, the same on every processor.
"""

from __future__ import annotations

import os
import struct
from collections.abc import Iterator
from fcntl import ioctl

LineEvent = tuple[int, int, int, int, int]
"""``struct gpio_v2_line_event``: monotonic ns, ``RISING`` or falling, line, number among the
edges of the request (from 1), number among those of the line."""

RISING = 1
"""GPIO_V2_LINE_EVENT_RISING_EDGE"""

EVENT = struct.Struct("=QIIII24x")
MOST_AT_ONCE = 64

SET_VALUES = 0xC010B40F
"""GPIO_V2_LINE_SET_VALUES_IOCTL: _IOWR(0xB4, 0x0F, struct gpio_v2_line_values)"""
_ONLY_LINE = 1
LEVELS = {level: struct.pack("=QQ", level, _ONLY_LINE) for level in (False, True)}
"""``struct gpio_v2_line_values``: the levels of a request's lines, and which of them to set."""


def read_edges(fd: int) -> Iterator[LineEvent]:
    """Read the edges that a request has ready, at most ``MOST_AT_ONCE``.

    Errors: ``BlockingIOError`` where there is none, any other ``OSError`` where the chip is gone.
    """
    return EVENT.iter_unpack(os.read(fd, EVENT.size * MOST_AT_ONCE))


def set_level(fd: int, level: bool) -> None:
    """Set the one line of a request; ``OSError`` where the chip is gone."""
    ioctl(fd, SET_VALUES, LEVELS[level])
