"""What was installed, and how: kept beside the software, for upgrade and uninstall."""

from __future__ import annotations

from pathlib import Path

import msgspec

from firmware_py.install.errors import InstallError
from firmware_py.install.places import RECORD, Box, Club


class Installed(msgspec.Struct, frozen=True):
    """An installation. ``release`` is the folder of the release that runs, by its name alone.

    ``files`` are the paths that were written, and ``boot`` the boot file that was added to.
    """

    release: str
    version: str
    host: str
    port: int
    buses: tuple[str, ...]
    wall_screen: bool
    files: tuple[str, ...]
    boot: str | None = None
    before: str | None = None
    club: Club | None = None
    logbook: str | None = None

    @property
    def box(self) -> Box:
        """What it was installed with."""
        at = self.host, self.port
        return Box(*at, self.buses, self.wall_screen, self.club, self.logbook)


def read(root: Path) -> Installed | None:
    """What is installed under ``root``; ``None`` if nothing is.

    Raises :class:`InstallError` for a record that can't be read.
    """
    path = root / RECORD.relative_to("/")
    try:
        return msgspec.json.decode(path.read_bytes(), type=Installed)
    except FileNotFoundError:
        return None
    except (OSError, msgspec.MsgspecError) as error:
        raise InstallError(f"{path}: what was installed can't be read: {error}") from error


def text_of(installed: Installed) -> str:
    """The record as it is written."""
    return msgspec.json.format(msgspec.json.encode(installed), indent=2).decode() + "\n"
