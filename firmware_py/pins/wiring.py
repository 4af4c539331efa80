"""How wires are named to gpiozero: header pins by BCM number, other chips' lines by chip and line.

gpiozero knows only the pins of a Pi's header. ``WiringInfo`` adds a pin for each line of any other
chip, so that gpiozero reserves, finds and releases it like one of its own.
"""

from __future__ import annotations

from collections.abc import Iterator

from gpiozero.pins import PinInfo
from gpiozero.pins.pi import PiBoardInfo

from firmware_py.layout.model import ChipLine, HeaderPin, Pin

AUTO = "auto"
"""The chip that the simulated pins of wires without a pin belong to."""

HIGHEST_LINE = 1023
"""No GPIO chip that a Pi carries comes near it; more is a slip of the pen."""


class PinsError(Exception):
    """The wiring can't be used as it was asked for; the text says what is wrong and what to do."""


class NoHeaderError(PinsError):
    """The header's pins are not there, or not ours; as a machine boots, they may come yet."""


def pin_name(pin: Pin, wire: str) -> int | str:
    """Return the name by which this room's factories know the pin of ``wire``.

    A wire without a pin (``"auto"`` in the layout file) gets ``auto:`` and its own name, which
    only the simulated factory serves.
    """
    match pin:
        case HeaderPin(bcm):
            return bcm
        case ChipLine(chip, line):
            return f"{chip}:{line}"
        case None:
            return f"{AUTO}:{wire}"


def split_chip_line(name: object) -> tuple[str, int] | None:
    """Return ``("chip", 3)`` for ``"chip:3"``, else ``None``; a chip's name may hold colons."""
    if not isinstance(name, str):
        return None
    chip, colon, line = name.rpartition(":")
    if not (colon and chip and line.isascii() and line.isdigit()):
        return None
    return (chip, int(line)) if int(line) <= HIGHEST_LINE else None


def off_header(name: str, line: int) -> PinInfo:
    """Describe a pin that is on no header; gpiozero asks for a row and a column all the same."""
    return PinInfo(
        number=line,
        name=name,
        names=frozenset({name}),
        pull="",
        row=1,
        col=line + 1,
        interfaces=frozenset({"gpio"}),
    )


class WiringInfo(PiBoardInfo):  # type: ignore[misc]  # gpiozero ships no types
    """gpiozero's board with the lines of other chips as further pins."""

    simulated = False

    def find_pin(self, name: object) -> Iterator[tuple[object, PinInfo]]:
        """Yield ``(header, pin)`` for a name; the header of a chip's line is ``None``."""
        yield from super().find_pin(name)
        place = split_chip_line(name)
        # The header's own names hold colons too ("J8:11"), and those are gpiozero's to find.
        if place is not None and place[0] not in self.headers:
            yield None, off_header(f"{place[0]}:{place[1]}", place[1])


class SimulatedInfo(WiringInfo):
    """The same, with a pin for each wire that has none yet."""

    simulated = True

    def find_pin(self, name: object) -> Iterator[tuple[object, PinInfo]]:
        """Yield ``(header, pin)`` for a name, ``auto:`` names included."""
        if isinstance(name, str) and name.startswith(f"{AUTO}:"):
            yield None, off_header(name, 0)
        else:
            yield from super().find_pin(name)
