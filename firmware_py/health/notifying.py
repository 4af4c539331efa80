"""Telling systemd how we fare: its notification protocol, which is one datagram for each word.

``NOTIFY_SOCKET`` names a Unix socket, a path or, after an ``@``, an abstract one;
``WATCHDOG_USEC`` says within how many microseconds ``WATCHDOG=1`` must come again (sd_notify(3),
sd_watchdog_enabled(3)).
"""

from __future__ import annotations

import os
import socket
from collections.abc import Mapping


class Notifier:
    """Tells systemd, if it has started us; else it does nothing."""

    def __init__(self, environ: Mapping[str, str] = os.environ) -> None:
        named = environ.get("NOTIFY_SOCKET", "")
        self._address = "\0" + named[1:] if named.startswith("@") else named
        self.feed_every_s = _feed_every_s(environ) if self._address else None

    @property
    def heard(self) -> bool:
        """Whether systemd has started us and wants to be told."""
        return bool(self._address)

    def tell(self, *words: str) -> bool:
        """Send words such as ``READY=1``; false if nobody took them. Never raises, never waits."""
        if not self._address:
            return False
        lines = "\n".join(word.replace("\n", " ") for word in words)
        try:
            with socket.socket(socket.AF_UNIX, socket.SOCK_DGRAM | socket.SOCK_CLOEXEC) as to:
                to.setblocking(False)
                to.sendto(lines.encode("utf-8", "replace"), self._address)
        except (OSError, ValueError):
            return False
        return True


def environ_untold(environ: Mapping[str, str] = os.environ) -> dict[str, str]:
    """The environment for a process that must not speak to the service manager."""
    ours = {"NOTIFY_SOCKET", "WATCHDOG_USEC", "WATCHDOG_PID"}
    return {name: value for name, value in environ.items() if name not in ours}


def _feed_every_s(environ: Mapping[str, str]) -> float | None:
    """Half the watchdog's time, if it is meant for this process or the one that started it."""
    usec, pid = environ.get("WATCHDOG_USEC", ""), environ.get("WATCHDOG_PID", "")
    if not usec.isdecimal() or int(usec) == 0:
        return None
    if pid and pid not in {str(os.getpid()), str(os.getppid())}:
        return None
    return int(usec) / 2_000_000
