"""The password of a box or a board at the broker, which stands in a file of its own."""

from __future__ import annotations

import stat
import tomllib
from dataclasses import dataclass
from pathlib import Path

_RIGHT = 'write password = "..." in it, and nothing else'
_OTHERS = stat.S_IRGRP | stat.S_IWGRP | stat.S_IROTH | stat.S_IWOTH


class ClubError(Exception):
    """Something about the club can't be used; the text says what, where, and what is right."""


@dataclass(frozen=True, slots=True)
class Broker:
    """Where the broker is and how to speak to it; ``user`` is a box's or a board's name."""

    host: str
    port: int
    user: str
    password: str
    tls: bool
    ca: Path | None = None

    def __repr__(self) -> str:
        return f"Broker({self.host}:{self.port} as {self.user})"


def read_password(path: Path) -> str:
    """The password in a file that only its owner can read. Raises :class:`ClubError`."""
    try:
        mode = path.stat().st_mode
        text = path.read_text(encoding="utf-8")
    except FileNotFoundError:
        raise ClubError(f"{path}: there is no such file; make it: {_RIGHT}") from None
    except (OSError, UnicodeDecodeError) as trouble:
        raise ClubError(f"{path}: it can't be read ({trouble}); {_RIGHT}") from None
    if mode & _OTHERS:
        raise ClubError(f"{path}: others can read it; run: chmod 600 {path}")
    try:
        found = tomllib.loads(text)
    except ValueError as wrong:
        raise ClubError(f"{path}: this is not TOML ({wrong}); {_RIGHT}") from None
    password = found.get("password")
    if set(found) != {"password"} or not isinstance(password, str) or not password:
        raise ClubError(f"{path}: there must be one password; {_RIGHT}")
    return password
