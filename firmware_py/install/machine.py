"""The machine that is installed on: its files under a root, and its service manager.

With another root than ``/`` no service is started or stopped, and no user need be root: such a
root is looked at, or copied to a card.
"""

from __future__ import annotations

import os
import subprocess
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from pathlib import PurePosixPath as Place

from firmware_py.install.errors import InstallError
from firmware_py.install.places import USER

RUN_WITHIN_S = 900.0
"""A card takes its time to unpack a library or two."""


@dataclass(frozen=True, slots=True)
class Machine:
    """A root folder, and the programs of the system that act on it."""

    root: Path = Path("/")

    @property
    def live(self) -> bool:
        """Whether this is the running system itself."""
        return self.root.resolve() == Path("/")

    def at(self, place: Place) -> Path:
        """Where a place of the machine lies."""
        return self.root / place.relative_to("/")

    def systemctl(self, *words: str) -> None:
        """Ask the service manager; under another root, nothing runs that could be asked."""
        if self.live:
            self.run("systemctl", *words)

    def make_users(self, file: Place) -> None:
        """Make the users that a file of sysusers.d names, as far as we may."""
        if self.live:
            self.run("systemd-sysusers", str(self.at(file)))
        elif self.rights and self.at(Place("/etc/passwd")).exists():
            self.run("systemd-sysusers", f"--root={self.root}", str(file))

    @property
    def rights(self) -> bool:
        """Whether we may do what only root may."""
        return os.geteuid() == 0

    def own(self, path: Path) -> None:
        """Give a path to the service's user, if there is one and we may."""
        ids = self._ids()
        if ids is not None and self.rights:
            os.chown(path, *ids, follow_symlinks=False)

    def run(self, *command: str) -> str:
        """Run a program of the system's, and give what it printed. Raises ``InstallError``."""
        try:
            ran = subprocess.run(
                command, capture_output=True, text=True, timeout=RUN_WITHIN_S, check=False
            )
        except (OSError, subprocess.SubprocessError) as error:
            raise InstallError(f"{command[0]} can't be run: {error}") from error
        if ran.returncode:
            said = (ran.stderr or ran.stdout).strip().splitlines()
            raise InstallError(f"{_shown(command)}: it failed: {said[-1] if said else 'silently'}")
        return ran.stdout

    def _ids(self) -> tuple[int, int] | None:
        try:
            lines = self.at(Place("/etc/passwd")).read_text("utf-8").splitlines()
        except OSError:
            return None
        for line in lines:
            name, _, uid, gid, *_ = (*line.split(":"), "", "", "", "")
            if name == USER and uid.isdecimal() and gid.isdecimal():
                return int(uid), int(gid)
        return None


def _shown(command: Sequence[str]) -> str:
    return " ".join(command[:4]) + (" ..." if len(command) > 4 else "")
