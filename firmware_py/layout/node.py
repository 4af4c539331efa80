"""The ``[node]`` table: by which name this box speaks to a club's board, and through which broker.

A layout without one speaks to nobody. No secret stands here: ``credentials`` names a file that
holds the password, and that file is not part of the layout.
"""

from __future__ import annotations

import re
from dataclasses import dataclass

NODE_NAME = re.compile(r"[a-z][a-z0-9]*(?:-[a-z0-9]+)*")
LONGEST_NAME = 32
PLAIN_PORT, TLS_PORT = 1883, 8883
"""The ports that IANA has registered for MQTT, in the clear and over TLS."""

_BROKER = re.compile(r"(\[[0-9A-Fa-f:.]+\]|[A-Za-z0-9_.-]+)(?::([0-9]{1,5}))?")


@dataclass(frozen=True, slots=True)
class Node:
    """A box of a club. ``ca`` is a file with the broker's own authority, ``None`` for the usual.

    ``credentials`` and ``ca`` are as they are written; a relative one lies beside the layout.
    """

    name: str
    host: str
    port: int
    credentials: str
    tls: bool = True
    ca: str | None = None


def address_of(text: str, usual_port: int) -> tuple[str, int] | None:
    """A host and a port from ``host`` or ``host:port``; ``None`` where the text is neither.

    >>> address_of("broker.local", 8883), address_of("[::1]:1883", 8883), address_of("a b", 1)
    (('broker.local', 8883), ('::1', 1883), None)
    """
    found = _BROKER.fullmatch(text)
    if found is None:
        return None
    port = int(found[2]) if found[2] else usual_port
    return (found[1].strip("[]"), port) if 0 < port < 65_536 else None
