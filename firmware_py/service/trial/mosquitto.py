"""Debian's Mosquitto with the access list that Spurlock ships."""

from __future__ import annotations

import os
import shutil
import signal
import subprocess
from collections.abc import Mapping
from importlib.resources import as_file, files
from pathlib import Path

from firmware_py.club.messages import LARGEST
from firmware_py.service.trial.programs import Program, TrialError, found, free_port, listens

MISSING = "Mosquitto is not installed; on Debian: apt install mosquitto"


class Mosquitto:
    """A broker in a folder of its own; ``passwords`` are its users'.

    ``persistent`` has it keep over a restart what it was told. ``certificates`` are those of a
    TLS listener: the broker's own, and its key.
    """

    def __init__(  # noqa: PLR0913 - each is its own choice
        self,
        folder: Path,
        passwords: Mapping[str, str],
        *,
        host: str = "127.0.0.1",
        port: int | None = None,
        persistent: bool = False,
        certificates: tuple[Path, Path] | None = None,
    ) -> None:
        program = found("mosquitto")
        if program is None:
            raise TrialError(MISSING)
        self.host, self.port = host, port or free_port()
        self._folder = folder
        folder.mkdir(parents=True, exist_ok=True)
        _write_passwords(folder / "passwords", passwords)
        with as_file(files("firmware_py.club") / "mosquitto.acl") as shipped:
            shutil.copy(shipped, folder / "acl")
        (folder / "acl").chmod(0o600)
        lines = [
            f"listener {self.port} {host}",
            "allow_anonymous false",
            "use_username_as_clientid true",  # Else anyone could cut another off by its id.
            f"password_file {folder / 'passwords'}",
            f"acl_file {folder / 'acl'}",
            f"max_packet_size {LARGEST + 65_536}",
            f"persistence {'true' if persistent else 'false'}",
            f"persistence_location {folder}/",
            "autosave_interval 1",
            "set_tcp_nodelay true",
            *(["user root"] if os.geteuid() == 0 else []),
        ]
        if certificates is not None:
            lines += [f"certfile {certificates[0]}", f"keyfile {certificates[1]}"]
        self._config = config = folder / "mosquitto.conf"
        config.write_text("\n".join(lines) + "\n")
        self.program = Program([str(program), "-c", str(config)], folder / "mosquitto.log")

    def remember(self, persistent: bool) -> None:
        """Say whether the next start knows what it was told before."""
        lines = self._config.read_text().splitlines()
        kept = [line for line in lines if not line.startswith("persistence ")]
        word = "true" if persistent else "false"
        self._config.write_text("\n".join([*kept, f"persistence {word}"]) + "\n")
        if not persistent:
            (self._folder / "mosquitto.db").unlink(missing_ok=True)

    def start(self) -> None:
        """Start it, and wait until it listens. Raises :class:`TrialError`."""
        self.program.start(lambda: listens(self.host, self.port))

    def stop(self, number: int = signal.SIGTERM) -> None:
        """End it."""
        self.program.stop(number)


def _write_passwords(path: Path, passwords: Mapping[str, str]) -> None:
    tool = found("mosquitto_passwd")
    if tool is None:
        raise TrialError(MISSING)
    path.touch(mode=0o600)
    path.write_text("".join(f"{user}:{password}\n" for user, password in passwords.items()))
    done = subprocess.run([str(tool), "-U", str(path)], capture_output=True, check=False)
    if done.returncode:
        raise TrialError(f"mosquitto_passwd: {done.stderr.decode(errors='replace').strip()}")
