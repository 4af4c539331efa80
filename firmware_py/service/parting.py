"""Engine, screen, courier and gatherer: each a service of its own, as systemd starts them.

systemd has no growing wait between restarts before version 254, so the wait is made here: in its
runtime folder, which outlasts restarts, each start leaves a count of the short lives before it.
"""

from __future__ import annotations

import contextlib
import os
import sys
import time
from collections.abc import Mapping
from enum import StrEnum
from pathlib import Path

from firmware_py.health.notifying import Notifier
from firmware_py.health.record import ApplianceHealth, boot_id, path_of, write
from firmware_py.service.starting import Appliance, BoardHost
from firmware_py.service.supervisor import BACK_OFF_S, WELL_AFTER_S

STARTS = "starts"


class Part(StrEnum):
    """What can be started alone."""

    ENGINE = "engine"
    SCREEN = "screen"
    COURIER = "courier"
    GATHERER = "gatherer"


PARTS_OF_BOX = (Part.ENGINE, Part.SCREEN, Part.COURIER)
PARTS_OF_BOARD = (Part.GATHERER, Part.SCREEN)


def become(
    part: Part, whole: Appliance | BoardHost, environ: Mapping[str, str] = os.environ
) -> None:
    """Turn this process into a part of an appliance or a board host; returns only by ``OSError``.

    The process keeps its id, so that the service manager goes on watching it.
    """
    wait_s = patience_s(environ, time.monotonic())
    if wait_s:
        Notifier(environ).tell(f"STATUS=It fell; it starts again in {wait_s:g} s.")
        if part is Part.ENGINE and isinstance(whole, Appliance):
            _make_safe(whole)
        time.sleep(wait_s)
    if part is Part.SCREEN:
        about = ApplianceHealth(os.getpid(), boot_id(), whole.screen_url)
        write(path_of(whole.logbook, ApplianceHealth), about)
    command = _command_of(part, whole)
    sys.stdout.flush()
    sys.stderr.flush()
    os.execv(command[0], command)


def _command_of(part: Part, whole: Appliance | BoardHost) -> list[str]:
    if part is Part.SCREEN:
        return whole.screen_command
    if isinstance(whole, BoardHost):
        return whole.gatherer_command
    return whole.courier_command if part is Part.COURIER else whole.engine_command


def _make_safe(appliance: Appliance) -> None:
    """Shut and light red what a killed engine has left as it was; then give the lines back.

    Else a drawn bolt would stay so for as long as is waited.
    """
    from firmware_py.engine.wires import take_wires  # noqa: PLC0415 - only after a fall

    # Whatever hinders this hinders the engine as well, which says what it is.
    with contextlib.suppress(Exception):
        take_wires(appliance.layout, simulated=appliance.simulated).close()


def patience_s(environ: Mapping[str, str], now_s: float) -> float:
    """How long to wait before starting, and note the start; 0 where nobody restarts us.

    ``now_s`` is in seconds of the machine's monotonic clock. The first start waits for nothing,
    nor does one after a life of more than a minute; each that follows a shorter one waits as
    long as the supervisor would.
    """
    folder = environ.get("RUNTIME_DIRECTORY", "").partition(":")[0]
    if not folder:
        return 0.0
    file = Path(folder) / STARTS
    falls, began_s = _noted(file)
    lived_s = None if began_s is None else now_s - began_s
    if lived_s is None or lived_s < 0 or lived_s > WELL_AFTER_S:
        falls = 0
    wait_s = BACK_OFF_S[min(falls, len(BACK_OFF_S)) - 1] if falls else 0.0
    with contextlib.suppress(OSError):
        # To the last digit: rounded up, it would lie ahead of a start that follows at once.
        file.write_text(f"{falls + 1} {now_s + wait_s!r}\n", "ascii")
    return wait_s


def _noted(file: Path) -> tuple[int, float | None]:
    try:
        falls, began_s = file.read_text("ascii").split()
        return max(0, int(falls)), float(began_s)
    except (OSError, ValueError):
        return 0, None
