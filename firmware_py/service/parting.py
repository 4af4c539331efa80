"""Engine and screen each as a service of its own, as systemd starts them once installed.

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
from firmware_py.service.starting import Appliance
from firmware_py.service.supervisor import BACK_OFF_S, WELL_AFTER_S

STARTS = "starts"


class Part(StrEnum):
    """What can be started alone."""

    ENGINE = "engine"
    SCREEN = "screen"


def become(part: Part, appliance: Appliance, environ: Mapping[str, str] = os.environ) -> None:
    """Turn this process into the engine or the screen; returns only by an ``OSError``.

    The process keeps its id, so that the service manager goes on watching it.
    """
    wait_s = patience_s(environ, time.monotonic())
    if wait_s:
        Notifier(environ).tell(f"STATUS=It fell; it starts again in {wait_s:g} s.")
        time.sleep(wait_s)
    if part is Part.SCREEN:
        about = ApplianceHealth(os.getpid(), boot_id(), appliance.screen_url)
        write(path_of(appliance.logbook, ApplianceHealth), about)
    command = appliance.engine_command if part is Part.ENGINE else appliance.screen_command
    sys.stdout.flush()
    sys.stderr.flush()
    os.execv(command[0], command)


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
        file.write_text(f"{falls + 1} {now_s + wait_s:.3f}\n", "ascii")
    return wait_s


def _noted(file: Path) -> tuple[int, float | None]:
    try:
        falls, began_s = file.read_text("ascii").split()
        return max(0, int(falls)), float(began_s)
    except (OSError, ValueError):
        return 0, None
