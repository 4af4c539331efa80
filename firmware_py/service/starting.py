"""How the two processes are started: their command lines, and a port for the screen."""

from __future__ import annotations

import contextlib
import os
import socket
import sys
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path

from firmware_py.health.record import ApplianceHealth, EngineHealth, boot_id, path_of, write
from firmware_py.service.supervisor import Child, Supervisor

ENGINE = "firmware_py.service.engine_process"
COURIER = "firmware_py.service.courier_process"
GATHERER = "firmware_py.service.gathering_process"
SCREEN = "web"
"""Started by name, and never imported: the screen is another process."""


@dataclass(frozen=True, slots=True)
class Appliance:
    """What is to run: a layout with its logbook, on real or simulated pins, and the screen.

    ``pace`` and ``seed`` are for the scripted crews, ``minutes`` ends the session by itself,
    and ``opened`` has it begin for work rather than wait for a host.
    """

    layout: Path
    logbook: str
    simulated: bool
    host: str
    port: int
    crew: bool = False
    pace: float = 1.0
    seed: int | None = None
    minutes: float | None = None
    opened: bool = False

    @property
    def engine_command(self) -> list[str]:
        """The engine's command line."""
        command = [sys.executable, "-m", ENGINE, "--layout", str(self.layout)]
        command += ["--logbook", self.logbook]
        command += ["--opened"] if self.opened or self.minutes is not None else []
        command += ["--simulated"] if self.simulated else []
        command += ["--crew", "--pace", str(self.pace)] if self.crew else []
        command += [] if self.seed is None else ["--seed", str(self.seed)]
        command += [] if self.minutes is None else ["--minutes", str(self.minutes)]
        return command

    @property
    def courier_command(self) -> list[str]:
        """The courier's command line."""
        where = ["--layout", str(self.layout), "--logbook", self.logbook]
        return [sys.executable, "-m", COURIER, *where]

    @property
    def screen_url(self) -> str:
        """The screen's address, as this machine itself can reach it."""
        return _near(self.host, self.port)

    @property
    def screen_command(self) -> list[str]:
        """The screen's command line."""
        where = ["--host", self.host, "--port", str(self.port)]
        return [sys.executable, "-m", SCREEN, "--logbook", self.logbook, *where]


@dataclass(frozen=True, slots=True)
class BoardHost:
    """What is to run on a board host: a gatherer by the board's file, and the screen of all boxes.

    ``logbook`` is the board's database.
    """

    file: Path
    logbook: str
    host: str
    port: int

    @property
    def gatherer_command(self) -> list[str]:
        """The gatherer's command line."""
        return [sys.executable, "-m", GATHERER, "--board", str(self.file)]

    @property
    def screen_url(self) -> str:
        """The screen's address, as this machine itself can reach it."""
        return _near(self.host, self.port)

    @property
    def screen_command(self) -> list[str]:
        """The screen's command line."""
        where = ["--host", self.host, "--port", str(self.port)]
        return [sys.executable, "-m", SCREEN, "--club", "--logbook", self.logbook, *where]


def _near(host: str, port: int) -> str:
    near = {"0.0.0.0": "127.0.0.1", "::": "::1"}.get(host, host)
    return f"http://[{near}]:{port}" if ":" in near else f"http://{near}:{port}"


Meanwhile = Callable[[], Sequence[Child] | None]
"""What the supervisor does while the engine begins: see there."""


def courier_of(appliance: Appliance) -> Child:
    """The process that publishes a box's log to its club."""
    return Child("courier", appliance.courier_command, tells=False)


def serve(
    appliance: Appliance, say: Callable[[str], None], meanwhile: Meanwhile = lambda: ()
) -> int:
    """Run an appliance until it is told to stop; answers the exit status.

    ``meanwhile`` is the supervisor's.
    """
    with _known(appliance):
        commands = appliance.engine_command, appliance.screen_command
        engine = path_of(appliance.logbook, EngineHealth)
        return Supervisor(*commands, say, record=engine, meanwhile=meanwhile).run()


@contextlib.contextmanager
def _known(whole: Appliance | BoardHost) -> Iterator[None]:
    """While this lasts, whoever asks finds where the screen is."""
    record = path_of(whole.logbook, ApplianceHealth)
    write(record, ApplianceHealth(os.getpid(), boot_id(), whole.screen_url))
    try:
        yield
    finally:
        with contextlib.suppress(OSError):
            record.unlink(missing_ok=True)


def free_port(host: str, wanted: int) -> int:
    """``wanted`` if nobody listens there, else a free port: one that stays the screen's own.

    Raises ``OSError`` if ``host`` is not an address of this machine.
    """
    family = socket.AF_INET6 if ":" in host else socket.AF_INET
    for port in (wanted, 0):
        with socket.socket(family, socket.SOCK_STREAM) as probe:
            probe.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
            try:
                probe.bind((host, port))
            except OSError:
                if port == 0:
                    raise
                continue
            return int(probe.getsockname()[1])
    raise OSError(f"no free port at {host}")


def serve_board(board: BoardHost, say: Callable[[str], None]) -> int:
    """Run a board host until it is told to stop: its gatherer, and the screen of all boxes."""
    with _known(board):
        commands = board.gatherer_command, board.screen_command
        return Supervisor(*commands, say, called="gatherer").run()
