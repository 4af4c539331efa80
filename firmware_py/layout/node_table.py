"""Reads a ``[node]`` table, and a board's own, which names its broker the same way."""

from __future__ import annotations

from firmware_py.layout.errors import shown
from firmware_py.layout.node import (
    LONGEST_NAME,
    NODE_NAME,
    PLAIN_PORT,
    TLS_PORT,
    Node,
    address_of,
)
from firmware_py.layout.tables import Table


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
