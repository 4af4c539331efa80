"""What a box of a club, and a board host, need besides: seen from their own files."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path, PurePosixPath

from sqlalchemy.engine import make_url
from sqlalchemy.exc import ArgumentError

from firmware_py.club.credentials import ClubError, read_password
from firmware_py.gathering.board_file import BoardFile
from firmware_py.install.errors import InstallError
from firmware_py.install.machine import Machine
from firmware_py.install.places import DATA, USER, Box, Club
from firmware_py.layout.errors import LayoutError
from firmware_py.layout.node import Node
from firmware_py.layout.reading import parse_layout

UNSEEN = ("/home", "/root", "/run/user", "/tmp", "/var/tmp")
"""What the services can't see, by their units (ProtectHome=, PrivateTmp=: systemd.exec(5))."""
_BESIDE = "keep it beside the layout or the board's file, and write its name alone"


def club_of(node: Node, folder: Path) -> Club:
    """How a machine takes part; ``folder`` is where its file lies. Raises ``InstallError``."""
    ca = node.ca
    if ca is not None and ca.startswith("/"):
        if any(ca.startswith(f"{place}/") for place in UNSEEN):
            raise InstallError(f"ca: an installed service can't see {ca}; {_BESIDE}")
        ca = None  # It lies where every user can read it.
    for key, name in (("credentials", node.credentials), ("ca", ca)):
        if name is not None and PurePosixPath(name).name != name:
            raise InstallError(f"{key}: {name} is no name of a file; {_BESIDE}")
    try:
        read_password(folder / node.credentials)
    except ClubError as error:
        raise InstallError(str(error)) from error
    if ca is not None and not (folder / ca).is_file():
        raise InstallError(f"{folder / ca}: there is no such file; it is what ca names")
    return Club(node.host, node.credentials, ca)


def club_now(machine: Machine, box: Box) -> Club | None:
    """How a box that is installed takes part by its layout as it is now. Raises ``InstallError``.

    A board host stays one. A layout that can't be read says nothing new.
    """
    path = machine.at(box.about)
    if box.is_board:
        return box.club
    try:
        node = parse_layout(path.read_text("utf-8"), str(path)).node
    except (OSError, UnicodeError, LayoutError):
        return box.club
    if node is None:
        return None
    try:
        return club_of(node, machine.at(DATA))
    except InstallError as error:
        theirs = f"the layout has a [node] table; its files belong in {DATA}, to {USER}"
        raise InstallError(f"{error}\n{theirs}") from error


def database_of(board: BoardFile) -> str:
    """A board host's database as it is installed. Raises ``InstallError``."""
    logbook = board.logbook
    if "://" not in logbook:
        if PurePosixPath(logbook).name != logbook:
            right = f'write a name alone, such as "board.sqlite": it will lie in {DATA}'
            raise InstallError(f"logbook: {logbook} is no name of a file; {right}")
        return logbook
    try:
        url = make_url(logbook)
    except ArgumentError:
        raise InstallError("logbook: this URL can't be understood; see spurlock board") from None
    if url.get_backend_name() == "sqlite":
        raise InstallError('logbook: for SQLite write a name alone, such as "board.sqlite"')
    if url.host not in (None, "", "localhost", "127.0.0.1", "::1"):
        right = "keep it on this machine: postgresql+psycopg:///spurlock"
        raise InstallError(f"logbook: the services reach no database at {url.host}; {right}")
    return logbook


def lacking(box: Box, *, psycopg: bool) -> Iterator[str]:
    """Why a board host would not do with these wheels."""
    if box.is_board and box.kept is None and not psycopg:
        yield (
            "the board's database needs psycopg, of which the folder has no wheel: fetch it on a "
            "computer with a network (pip download 'psycopg[binary]') and put it there"
        )
