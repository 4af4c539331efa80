"""A real Mosquitto with the access list that Spurlock ships, on a port of its own."""

from __future__ import annotations

import contextlib
import shutil
import signal
import socket
import subprocess
import time
from collections.abc import Iterable
from pathlib import Path

GENEROUS_S = 60.0
PASSWORDS = "passwords"
SHIPPED = Path(__file__).parents[2] / "firmware_py" / "club" / "mosquitto.acl"


def mosquitto() -> str | None:
    """Debian's Mosquitto, ``None`` where it is not installed."""
    return shutil.which("mosquitto") or shutil.which("mosquitto", path="/usr/sbin")


def free_port() -> int:
    """A port that nobody listens at just now."""
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        return int(probe.getsockname()[1])


class Mosquitto:
    """A broker; ``persistent`` has it keep what it was told over a restart."""

    def __init__(
        self,
        folder: Path,
        users: Iterable[str],
        *,
        persistent: bool = False,
        host: str = "127.0.0.1",
        more: str = "",
    ) -> None:
        self.host, self.port = host, free_port()
        self.folder = folder
        self._process: subprocess.Popen[bytes] | None = None
        folder.mkdir(parents=True, exist_ok=True)
        folder.chmod(0o755)
        passwords = folder / PASSWORDS
        passwords.touch(mode=0o600)
        for user in users:
            command = ["mosquitto_passwd", "-b", str(passwords), user, password_of(user)]
            subprocess.run(command, check=True, capture_output=True)
        self._config = folder / "mosquitto.conf"
        self._config.write_text(
            f"listener {self.port} {host}\n"
            "allow_anonymous false\n"
            f"password_file {passwords}\n"
            f"acl_file {shutil.copy(SHIPPED, folder / 'acl')}\n"
            "user root\n"
            "max_packet_size 9000000\n"
            f"persistence {'true' if persistent else 'false'}\n"
            f"persistence_location {folder}/\n"
            "autosave_interval 1\n" + more
        )

    def start(self) -> None:
        """Start it, and wait until it listens."""
        found = mosquitto()
        assert found, "Mosquitto is not installed"
        with (self.folder / "mosquitto.log").open("ab") as said:
            self._process = subprocess.Popen(
                [found, "-c", str(self._config)], stdout=said, stderr=said
            )
        end_s = time.monotonic() + GENEROUS_S
        while time.monotonic() < end_s:
            with contextlib.suppress(OSError), socket.create_connection((self.host, self.port), 1):
                return
            assert self._process.poll() is None, self.said
            time.sleep(0.02)
        raise AssertionError(f"it never listened: {self.said}")

    @property
    def said(self) -> str:
        return (self.folder / "mosquitto.log").read_text()

    def stop(self, number: int = signal.SIGTERM) -> None:
        """End it: as a service manager does, or with another signal."""
        process, self._process = self._process, None
        if process is not None:
            process.send_signal(number)
            process.wait(GENEROUS_S)


def password_of(user: str) -> str:
    """The password that these tests give a user."""
    return f"{user}-6c1f"
