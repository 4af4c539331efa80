"""Where an installed appliance keeps what it has, on the machine that it runs on."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import PurePosixPath as Place

SOFTWARE = Place("/opt/spurlock")
"""Every release with its libraries, each in a folder of its own, and what was installed how."""
RELEASES = SOFTWARE / "releases"
CURRENT = SOFTWARE / "current"
"""A link to the release that runs; an upgrade changes nothing else until it has proved itself."""
RECORD = SOFTWARE / "installed.json"
WALL_SCREEN = SOFTWARE / "wall-screen"

DATA = Place("/var/lib/spurlock")
"""All that is the owner's: the layout, its logbook and the backups."""
LAYOUT = DATA / "layout.toml"
LOGBOOK = DATA / "layout.sqlite"
BACKUPS = DATA / "backups"

COMMAND = Place("/usr/local/bin/spurlock")
UNITS = Place("/etc/systemd/system")
ENGINE_UNIT = "spurlock-engine.service"
SCREEN_UNIT = "spurlock-screen.service"
TARGET_UNIT = "spurlock.target"
ALL_UNITS = (ENGINE_UNIT, SCREEN_UNIT, TARGET_UNIT)

USER = "spurlock"


@dataclass(frozen=True, slots=True)
class Box:
    """What an appliance is installed with: where its screen listens, and what its wires hang on.

    ``buses`` are the kernel's names of the buses that carry expander chips: ``i2c``, ``spi``.
    ``wall_screen`` has the machine's own desktop show the board.
    """

    host: str = "127.0.0.1"
    port: int = 8080
    buses: tuple[str, ...] = ()
    wall_screen: bool = False
