"""What a Pi's boot file, ``config.txt``, says: parameters and the pulls of pins, from its text."""

from __future__ import annotations

import re
from collections.abc import Iterator
from pathlib import PurePosixPath as Place

CONFIGS = (Place("/boot/firmware/config.txt"), Place("/boot/config.txt"))
"""Where it lies: since Debian 12, and before (from memory of Raspberry Pi's documentation)."""
STRICT = "strict_gpiod"
I2C_SPEED = 400_000

_PULLED_UP = range(9)
_PINS = range(28)
_RANGE = re.compile(r"(\d{1,2})(?:-(\d{1,2}))?")
_LEVELS = {"pu": True, "pd": False, "pn": None, "dh": True, "dl": False}


def parameters(text: str) -> dict[str, str]:
    """The ``dtparam`` values in force at the end of the file; a bare name is ``on``.

    Sections for one model are taken as if they held: which model this is, the doctor can't tell.
    """
    found: dict[str, str] = {}
    for key, value in _settings(text):
        if key == "dtparam":
            for part in filter(None, (word.strip() for word in value.split(","))):
                name, _, said = part.partition("=")
                found[name.strip()] = said.strip() or "on"
    return found


def levels_at_boot(text: str) -> dict[int, bool | None]:
    """Which way each pin of the header is pulled, or driven, before anything runs; by BCM number.

    GPIO 0 to 8 up, 9 to 27 down (Raspberry Pi documentation, "Power-on states"; a Pi 5's from
    memory), but for what ``gpio=`` lines say. ``None`` is not pulled at all.
    """
    found: dict[int, bool | None] = {pin: pin in _PULLED_UP for pin in _PINS}
    for key, value in _settings(text):
        if key == "gpio":
            pins, _, options = value.partition("=")
            for option in options.split(","):
                if option.strip() in _LEVELS:
                    found.update(dict.fromkeys(_numbers(pins), _LEVELS[option.strip()]))
    return found


def _numbers(text: str) -> Iterator[int]:
    for part in text.split(","):
        if match := _RANGE.fullmatch(part.strip()):
            first, last = int(match[1]), int(match[2] or match[1])
            yield from (pin for pin in range(first, last + 1) if pin in _PINS)


def _settings(text: str) -> Iterator[tuple[str, str]]:
    for line in text.splitlines():
        key, _, value = line.partition("#")[0].partition("=")
        if value.strip():
            yield key.strip(), value.strip()
