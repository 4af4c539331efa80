"""How the two processes are started: their command lines, and a port for the screen."""

from __future__ import annotations

import contextlib
import os
import socket
import sys
from collections.abc import Callable, Sequence
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
        host = {"0.0.0.0": "127.0.0.1", "::": "::1"}.get(self.host, self.host)
        return f"http://[{host}]:{self.port}" if ":" in host else f"http://{host}:{self.port}"

    @property
    def screen_command(self) -> list[str]:
        """The screen's command line."""
        where = ["--host", self.host, "--port", str(self.port)]
        return [sys.executable, "-m", SCREEN, "--logbook", self.logbook, *where]


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
    about = ApplianceHealth(os.getpid(), boot_id(), appliance.screen_url)
    record = path_of(appliance.logbook, ApplianceHealth)
    write(record, about)
    try:
        commands = appliance.engine_command, appliance.screen_command
        engine = path_of(appliance.logbook, EngineHealth)
        return Supervisor(*commands, say, record=engine, meanwhile=meanwhile).run()
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


def board_commands(
    board: Path, database: str, address: tuple[str, int]
) -> tuple[list[str], list[str]]:
    """The command lines of a board host's gatherer and of its screen."""
    host, port = address
    gatherer = [sys.executable, "-m", GATHERER, "--board", str(board)]
    where = ["--host", host, "--port", str(port)]
    return gatherer, [sys.executable, "-m", SCREEN, "--club", "--logbook", database, *where]


def serve_board(
    board: Path, database: str, address: tuple[str, int], say: Callable[[str], None]
) -> int:
    """Run a board host until it is told to stop: its gatherer, and the screen of all boxes."""
    commands = board_commands(board, database, address)
    return Supervisor(*commands, say, called="gatherer").run()
