"""A board's file (TOML): its name, its broker, its database, and keys that fit at other boxes."""

from __future__ import annotations

import tomllib
from dataclasses import dataclass
from pathlib import Path

from firmware_py.club.credentials import Broker, ClubError, read_password
from firmware_py.gathering.names import of_node
from firmware_py.layout.errors import Problems, shown
from firmware_py.layout.lines import lines_of
from firmware_py.layout.node import Node
from firmware_py.layout.node_table import read_node
from firmware_py.layout.tables import Table

EXAMPLE = "[board] with a name, a broker, credentials and a logbook"


@dataclass(frozen=True, slots=True)
class BoardFile:
    """What stands in it. ``fits`` has the key of each switch or gate that another box's key fits.

    ``logbook`` is a file or an SQLAlchemy URL, as it is written; a relative file lies beside it.
    """

    title: str
    node: Node
    logbook: str
    fits: dict[str, str]
    folder: Path

    @property
    def name(self) -> str:
        """The board's name, with which it logs in at the broker."""
        return self.node.name

    @property
    def database(self) -> str:
        """The logbook as it is opened."""
        return self.logbook if "://" in self.logbook else str(self.folder / self.logbook)

    def broker(self) -> Broker:
        """How the broker is reached. Raises :class:`ClubError` where the password can't be read."""
        node = self.node
        password = read_password(self.folder / Path(node.credentials).expanduser())
        ca = self.folder / Path(node.ca).expanduser() if node.ca else None
        return Broker(node.host, node.port, node.name, password, node.tls, ca)


def is_board_file(path: Path) -> bool:
    """Whether this is a board's file, however wrong it may be, rather than a layout's."""
    try:
        document = tomllib.loads(path.read_text(encoding="utf-8"))
    except (OSError, ValueError):
        return False
    return "board" in document and "layout" not in document


def read_board(path: Path) -> BoardFile:
    """Read a board's file. Raises ``LayoutError`` with every problem, or :class:`ClubError`."""
    try:
        text = path.read_text(encoding="utf-8")
        document = tomllib.loads(text)
    except FileNotFoundError:
        raise ClubError(f"{path}: there is no such file; write one with {EXAMPLE}") from None
    except (OSError, ValueError) as wrong:
        raise ClubError(f"{path}: it can't be read as TOML ({wrong})") from None
    problems = Problems(str(path), lines_of(text))
    top = Table(problems, (), document, "")
    table = top.table("board", '{ name = "board" }')
    table.label = "[board]"
    title = table.text("title") or "The club"
    logbook = table.text("logbook") or "board.sqlite"
    node = read_node(table)
    fits = _fits(top, problems)
    top.finish()
    problems.raise_any()
    return BoardFile(title, node, logbook, fits, path.parent)


def _fits(top: Table, problems: Problems) -> dict[str, str]:
    tables = top.value("key")
    if tables is None:
        return {}
    if not isinstance(tables, list) or not all(isinstance(one, dict) for one in tables):
        top.wrong("key", "write [[key]] with two brackets for each key that fits at another box")
        return {}
    found: dict[str, str] = {}
    for at, values in enumerate(tables):
        table = Table(problems, ("key", at), values, f"key number {at + 1}")
        key = table.needed("key", '"west-room--yard-key"')
        for thing in table.texts("fits") or ():
            _judge(table, "fits", thing)
            found[thing] = key
        if key:
            _judge(table, "key", key)
        table.finish()
    return found


def _judge(table: Table, key: str, ident: str) -> None:
    if of_node(ident) is None:
        right = 'a box\'s name, two hyphens and the id there: "west-room--yard-key"'
        table.wrong(key, f"{shown(ident)} is no thing of a box; write {right}")
