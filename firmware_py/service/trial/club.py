"""The trial: a broker, a database, three simulated boxes of one valley, and one board."""

from __future__ import annotations

import contextlib
import secrets
import sys
import time
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from importlib.resources import files
from pathlib import Path

from firmware_py.service.starting import COURIER, ENGINE, BoardHost
from firmware_py.service.supervisor import Child
from firmware_py.service.told import listen_for_stop
from firmware_py.service.trial.mosquitto import Mosquitto
from firmware_py.service.trial.postgresql import PostgreSQL

ROOMS = ("upper-room", "middle-room", "lower-room")
BOARD = "board"
TITLE = "Wendlebeck club"
LOOK_EVERY_S = 0.1

_NODE = """
[node]
name = "{name}"
broker = "{host}:{port}"
credentials = "{name}.credentials"
tls = false                            # on this machine alone; over a network keep it true
"""
_BOARD = """\
[board]
name = "{name}"
title = "{title}"
broker = "{host}:{port}"
credentials = "{name}.credentials"
tls = false
logbook = "{logbook}"

[[key]]                                # it hangs in the upper room
key = "upper-room--lower-key"
fits = [
  "middle-room--oil-dock-switch",
  "middle-room--foundry-switch",
  "lower-room--brickyard-switch",
]
"""


Machines = tuple[Mosquitto, str | None, dict[str, str]]


@dataclass(frozen=True, slots=True)
class Written:
    """The files of a trial: each room's layout, the board's file, and the board's database."""

    layouts: dict[str, Path]
    board: Path
    database: str

    def logbook(self, room: str) -> Path:
        """A room's own logbook."""
        return self.layouts[room].with_suffix(".sqlite")


def passwords() -> dict[str, str]:
    """A password for each room and for the board."""
    return {name: secrets.token_hex(16) for name in (*ROOMS, BOARD)}


def write_files(
    folder: Path, broker: Mosquitto, words: dict[str, str], database: str | None
) -> Written:
    """Write the layouts, the board's file and everybody's credentials; ``None`` is SQLite."""
    for name, word in words.items():
        secret = folder / f"{name}.credentials"
        secret.touch(mode=0o600)
        secret.write_text(f'password = "{word}"\n')
    layouts = {}
    shipped = files("firmware_py.demo") / "layouts" / "club"
    for room in ROOMS:
        node = _NODE.format(name=room, host=broker.host, port=broker.port)
        layouts[room] = folder / f"{room}.toml"
        layouts[room].write_text((shipped / f"{room}.toml").read_text("utf-8") + node)
    board = folder / "club.toml"
    logbook = database or "board.sqlite"
    about = {"name": BOARD, "title": TITLE, "host": broker.host, "port": broker.port}
    board.touch(mode=0o600)
    board.write_text(_BOARD.format(logbook=logbook, **about))
    return Written(layouts, board, database or str(folder / "board.sqlite"))


def children(written: Written, address: tuple[str, int], *, crew: bool, pace: float) -> list[Child]:
    """All processes of the boxes and the board, none of them started."""
    found = []
    for room in ROOMS:
        where = ["--layout", str(written.layouts[room]), "--logbook", str(written.logbook(room))]
        work = ["--crew", "--pace", str(pace)] if crew else []
        engine = [sys.executable, "-m", ENGINE, *where, "--simulated", *work]
        found.append(Child(f"engine of {room}", engine))
        found.append(Child(f"courier of {room}", [sys.executable, "-m", COURIER, *where]))
    board = BoardHost(written.board, written.database, *address)
    every = [Child("gatherer", board.gatherer_command), Child("screen", board.screen_command)]
    return [*found, *every]


@contextlib.contextmanager
def machines(
    folder: Path, *, sqlite: bool
) -> Iterator[tuple[Mosquitto, str | None, dict[str, str]]]:
    """A broker and a database that run; the database's URL is ``None`` for SQLite."""
    words = passwords()
    with contextlib.ExitStack() as stack:
        broker = Mosquitto(folder / "broker", words, persistent=True)
        broker.start()
        stack.callback(broker.stop)
        url = None
        if not sqlite:
            database = PostgreSQL(folder / "database")
            database.start()
            stack.callback(database.stop)
            url = database.url
        yield broker, url, words


def watch(every: list[Child], say: Callable[[str], None]) -> int:
    """Start all, start again what falls, and stop all when told to; answers the exit status."""
    told = listen_for_stop()
    try:
        for child in every:
            child.start()
        while not told():
            time.sleep(LOOK_EVERY_S)
            _look(every, say)
    finally:
        for child in every:
            child.stop()
    return 0


def _look(every: list[Child], say: Callable[[str], None]) -> None:
    now_s = time.monotonic()
    for child in every:
        if child.process is None:
            if now_s >= child.again_at_s:
                child.start()
        elif child.process.poll() is not None:
            status = child.process.returncode
            wait_s = child.fell(now_s)
            say(f"The {child.name} stopped ({status}); it starts again in {wait_s:g} s.")
