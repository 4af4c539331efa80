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
BOARD = DATA / "board.toml"
"""On a board host, in the layout's place."""
LOGBOOK = DATA / "layout.sqlite"
BACKUPS = DATA / "backups"

COMMAND = Place("/usr/local/bin/spurlock")
UNITS = Place("/etc/systemd/system")
ENGINE_UNIT = "spurlock-engine.service"
SCREEN_UNIT = "spurlock-screen.service"
COURIER_UNIT = "spurlock-courier.service"
"""Only on a box of a club."""
GATHERER_UNIT = "spurlock-gatherer.service"
"""Only on a board host, which has no engine."""
TARGET_UNIT = "spurlock.target"
ALL_UNITS = (ENGINE_UNIT, SCREEN_UNIT, COURIER_UNIT, GATHERER_UNIT, TARGET_UNIT)

USER = "spurlock"


@dataclass(frozen=True, slots=True)
class Club:
    """How a machine takes part in a club: the broker's ``host``, and the files that it needs.

    ``credentials`` and ``ca`` are names of files beside the layout or the board's file; ``ca`` is
    ``None`` where the usual authorities are asked, or where it lies elsewhere.
    """

    host: str
    credentials: str
    ca: str | None = None

    @property
    def secret(self) -> Place:
        """Where the password lies."""
        return DATA / self.credentials


@dataclass(frozen=True, slots=True)
class Box:
    """What an appliance is installed with: where its screen listens, and what its wires hang on.

    ``buses`` are the kernel's names of the buses that carry expander chips: ``i2c``, ``spi``.
    ``wall_screen`` has the machine's own desktop show the board. ``club`` is what a box of a club
    and a board host have besides, and ``logbook`` a board host's own database: a file's name, or
    a URL; a box has none other than ``LOGBOOK``.
    """

    host: str = "127.0.0.1"
    port: int = 8080
    buses: tuple[str, ...] = ()
    wall_screen: bool = False
    club: Club | None = None
    logbook: str | None = None

    @property
    def is_board(self) -> bool:
        """Whether this is a board host, and guards nothing itself."""
        return self.logbook is not None

    @property
    def about(self) -> Place:
        """The file that says what it is: a layout, or a board's file."""
        return BOARD if self.is_board else LAYOUT

    @property
    def kept(self) -> Place | None:
        """The file of its logbook; ``None`` where a database server keeps it."""
        if self.logbook is None:
            return LOGBOOK
        return None if "://" in self.logbook else DATA / self.logbook

    @property
    def database(self) -> str:
        """Its logbook as it is opened."""
        return str(self.kept or self.logbook)
