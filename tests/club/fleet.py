"""Three boxes, a broker, a database and boards, all as processes that can be ended for real.

Each box's courier lives in a network namespace of its own where this is root, so that its cable
can be pulled; its processes believe a clock that can be put forward and back.
"""

from __future__ import annotations

import contextlib
import os
import signal
import subprocess
import sys
import time
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, field
from pathlib import Path

from sqlalchemy import Engine

from club.box import write_layout
from club.machines import broker_in, database_in, password_of
from firmware_py.logbook.opening import open_engine
from firmware_py.service.trial.mosquitto import Mosquitto
from firmware_py.service.trial.postgresql import PostgreSQL

SKEWED = "tests.club.skewed"
ROOT = Path(__file__).parents[2]
NODES = ("west", "east", "north")
GENEROUS_S = 90.0
BOARD = """\
[board]
name = "{name}"
title = "Vale club"
broker = "{host}:{port}"
credentials = "{name}.credentials"
tls = false
logbook = "{logbook}"
"""


def until(
    what: Callable[[], object], why: Callable[[], str] | str = "it never came to pass"
) -> None:
    """Wait until something is so."""
    end_s = time.monotonic() + GENEROUS_S
    while not what():
        if time.monotonic() > end_s:
            raise AssertionError(why())
        time.sleep(0.05)


class Process:
    """A Python process of ours; its words go to a file."""

    def __init__(
        self, module: str, arguments: Sequence[str], log: Path, wrap: Sequence[str] = ()
    ) -> None:
        self._command = [*wrap, sys.executable, "-m", module, *arguments]
        self._log = log
        self._process: subprocess.Popen[bytes] | None = None

    @property
    def said(self) -> str:
        return self._log.read_text(errors="replace") if self._log.exists() else ""

    @property
    def runs(self) -> bool:
        return self._process is not None and self._process.poll() is None

    def start(self) -> None:
        if self.runs:
            return
        with self._log.open("ab") as log:
            self._process = subprocess.Popen(self._command, stdout=log, stderr=log, cwd=ROOT)

    def send(self, number: int) -> None:
        if self.runs and self._process is not None:
            self._process.send_signal(number)

    def stop(self, number: int = signal.SIGTERM) -> None:
        process, self._process = self._process, None
        if process is not None:
            with contextlib.suppress(ProcessLookupError):
                process.send_signal(signal.SIGCONT)
                process.send_signal(number)
            try:
                process.wait(20)
            except subprocess.TimeoutExpired:
                process.kill()
                process.wait()


@dataclass(slots=True)
class Node:
    """A box. ``cable`` is the host's end of its link, ``None`` where it has none of its own."""

    name: str
    layout: Path
    logbook: str
    engine: Process
    courier: Process
    database: Engine
    clock: Path
    cable: str | None = None


@dataclass(slots=True)
class Host:
    """A board host: its gatherer, and its database."""

    name: str
    gatherer: Process
    url: str
    database: Engine


@dataclass(slots=True)
class Fleet:
    """All of it. ``disk`` is where the database lies where that can be filled."""

    folder: Path
    broker: Mosquitto
    postgresql: PostgreSQL | None
    nodes: list[Node]
    boards: list[Host]
    namespaces: list[str] = field(default_factory=list)
    disk: Path | None = None

    def start(self) -> None:
        self.broker.start()
        for node in self.nodes:
            node.engine.start()
        for node in self.nodes:
            node.courier.start()
        for board in self.boards:
            board.gatherer.start()

    def close(self) -> None:
        every = [one.gatherer for one in self.boards]
        every += [process for node in self.nodes for process in (node.courier, node.engine)]
        for process in every:
            process.send(signal.SIGTERM)
        for process in every:
            process.stop()
        for node in self.nodes:
            node.database.dispose()
        for board in self.boards:
            board.database.dispose()
        self.broker.stop()
        if self.postgresql is not None:
            self.postgresql.stop()
        for name in self.namespaces:
            subprocess.run(["ip", "netns", "del", name], check=False, capture_output=True)
        if self.disk is not None:
            subprocess.run(["umount", str(self.disk)], check=False, capture_output=True)

    @property
    def said(self) -> str:
        every = [one.gatherer for one in self.boards]
        every += [process for node in self.nodes for process in (node.engine, node.courier)]
        return "\n".join(process.said[-1_500:] for process in every)


def is_root() -> bool:
    """Whether namespaces and file systems can be made here."""
    return os.geteuid() == 0


def fleet_in(
    folder: Path, *, sqlite: bool = False, boards: int = 1, disk_mb: int | None = None
) -> Fleet:
    """A fleet, whose database runs and of which nothing else was started."""
    folder.mkdir(parents=True, exist_ok=True)
    folder.chmod(0o755)
    spaces = is_root()
    broker = broker_in(folder / "broker", host="0.0.0.0" if spaces else "127.0.0.1")
    disk = None
    if disk_mb is not None and is_root():
        disk = folder / "disk"
        disk.mkdir()
        command = ["mount", "-t", "tmpfs", "-o", f"size={disk_mb}m,mode=755", "none", str(disk)]
        subprocess.run(command, check=True)
    where = disk or folder
    postgresql = None
    if not sqlite:
        postgresql = database_in(where / "database")
        postgresql.start()
    fleet = Fleet(folder, broker, postgresql, [], [], disk=disk)
    for number, name in enumerate(NODES):
        fleet.nodes.append(_node(fleet, number, name, spaces=spaces))
    for number in range(boards):
        fleet.boards.append(_board(fleet, "board" if not number else "board-2", where))
    return fleet


def _node(fleet: Fleet, number: int, name: str, *, spaces: bool) -> Node:
    host, wrap, cable = "127.0.0.1", [], None
    if spaces:
        cable, space = f"sp{os.getpid() % 10_000}n{number}", f"spurlock-{os.getpid()}-{name}"
        host = _lay_cable(cable, space, os.getpid() % 200, number)
        fleet.namespaces.append(space)
        wrap = ["ip", "netns", "exec", space]
    layout = write_layout(fleet.folder, name, host, fleet.broker.port)
    logbook = str(fleet.folder / f"{name}.sqlite")
    where = ["--layout", str(layout), "--logbook", logbook]
    clock = fleet.folder / f"{name}.clock"
    clock.write_text("0\n")
    engine = Process(
        SKEWED,
        [str(clock), "firmware_py.service.engine_process", *where, "--simulated", "--seed", "7"],
        fleet.folder / f"{name}-engine.log",
    )
    courier = Process(
        SKEWED,
        [str(clock), "firmware_py.service.courier_process", *where],
        fleet.folder / f"{name}-courier.log",
        wrap,
    )
    return Node(name, layout, logbook, engine, courier, open_engine(logbook), clock, cable)


def _board(fleet: Fleet, name: str, where: Path) -> Host:
    if fleet.postgresql is not None:
        url = fleet.postgresql.database(name.replace("-", "_"))
    else:
        url = str(where / f"{name}.sqlite")
    path = fleet.folder / f"{name}.toml"
    about = {"name": name, "host": "127.0.0.1", "port": fleet.broker.port}
    path.write_text(BOARD.format(logbook=url, **about))
    secret = fleet.folder / f"{name}.credentials"
    secret.touch(mode=0o600)
    secret.write_text(f'password = "{password_of(name)}"\n')
    log = fleet.folder / f"{name}.log"
    gatherer = Process("firmware_py.service.gathering_process", ["--board", str(path)], log)
    return Host(name, gatherer, url, open_engine(url))


def _lay_cable(cable: str, space: str, net: int, number: int) -> str:
    """A pair of virtual network cards, one of them in a namespace; the host's own address."""
    host, box = f"10.{180 + number}.{net}.1", f"10.{180 + number}.{net}.2"
    for command in (
        f"ip netns add {space}",
        f"ip link add {cable} type veth peer name {cable}b netns {space}",
        f"ip addr add {host}/30 dev {cable}",
        f"ip link set {cable} up",
        f"ip netns exec {space} ip link set lo up",
        f"ip netns exec {space} ip addr add {box}/30 dev {cable}b",
        f"ip netns exec {space} ip link set {cable}b up",
    ):
        subprocess.run(command.split(), check=True, capture_output=True)
    return host


@contextlib.contextmanager
def running(fleet: Fleet) -> Iterator[Fleet]:
    """A fleet that runs, and is ended in the end."""
    try:
        fleet.start()
        yield fleet
    finally:
        fleet.close()
