"""The ``[node]`` table: by which name this box speaks to a club's board, and through which broker.

A layout without one speaks to nobody. No secret stands here: ``credentials`` names a file that
holds the password, and that file is not part of the layout.
"""

from __future__ import annotations

import re
from dataclasses import dataclass

from firmware_py.layout.errors import shown
from firmware_py.layout.tables import Table

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


def read_node(table: Table) -> Node:
    """Read the table; what is wrong is noted in its problems."""
    name = table.needed("name", '"west-room"')
    if name and (not NODE_NAME.fullmatch(name) or len(name) > LONGEST_NAME):
        right = (
            f'lower-case words joined by hyphens, at most {LONGEST_NAME} characters: "west-room"'
        )
        table.wrong("name", f"the name {shown(name)} is not in the right form; write {right}")
    tls = table.value("tls") is None or table.flag("tls")
    host, port = _broker(table, TLS_PORT if tls else PLAIN_PORT)
    node = Node(
        name=name,
        host=host,
        port=port,
        credentials=table.needed("credentials", '"west-room.credentials"'),
        tls=tls,
        ca=table.text("ca"),
    )
    if node.ca is not None and not tls:
        table.wrong("ca", "ca is for TLS, which tls = false switches off; keep one of them")
    table.finish()
    return node


def _broker(table: Table, usual: int) -> tuple[str, int]:
    given = table.needed("broker", '"broker.local"')
    found = address_of(given, usual)
    if given and found is None:
        right = '"broker.local" or "192.168.4.2:8883"'
        table.wrong("broker", f"broker must be an address such as {right}, not {shown(given)}")
    return found or ("", usual)


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
