"""What the installed appliance must stand under systemd, done and judged from within.

Runs at each of two boots as root, started by systemd beside the appliance; goes on after the
reboot where it left off, since what it has found is on a folder of the host's.
"""

from __future__ import annotations

import json
import os
import signal
import subprocess
import time
from collections.abc import Callable
from pathlib import Path
from typing import Any

from firmware_py.install.machine import Machine
from firmware_py.install.places import ENGINE_UNIT, LOGBOOK, SCREEN_UNIT, TARGET_UNIT, Box
from firmware_py.install.proving import look
from firmware_py.logbook.opening import open_to_read
from firmware_py.logbook.reading import Reader

RESULTS = Path("/run/results")
STOOD = RESULTS / "stood.json"
WITHIN_S = 240.0
HOST, PORT = "127.0.0.1", 8080
UNITS = {"engine": ENGINE_UNIT, "screen": SCREEN_UNIT}
MOST_BOOTS = 2


class NotStoodError(Exception):
    """Something did not come about."""


def main() -> None:
    """Do the next part, and keep what came of it."""
    found = json.loads(STOOD.read_text()) if STOOD.exists() else _nothing()
    found["boots"] += 1
    _keep(found)
    reboots = found["boots"] < MOST_BOOTS
    try:
        (_first if reboots else _second)(found)
        found["failed"] = None if not reboots else "it never came back from the reboot"
    except Exception as error:
        found["failed"] = f"{type(error).__name__}: {error}"
        reboots = False
    _keep(found)
    for name in ("journalctl -b --no-pager", "systemctl status --no-pager spurlock*"):
        with (RESULTS / f"{name.split()[0]}-{found['boots']}.log").open("w") as log:
            subprocess.run(name.split(), stdout=log, stderr=log, check=False)
    os.sync()
    word = "reboot" if reboots else "poweroff"
    if subprocess.run(["systemctl", word], check=False).returncode:
        # The manager may be out of breath; all has been judged and kept by now.
        subprocess.run(["systemctl", "--force", word], check=True)


def _first(found: dict[str, Any]) -> None:
    healthy()
    _passed(found, "engine and screen reach a healthy state from the boot")
    for name, unit in UNITS.items():
        before, other = main_pid(unit), main_pid(_other(name))
        os.kill(before, signal.SIGKILL)
        until(lambda u=unit, b=before: main_pid(u) not in {0, b}, f"{name}: not started again")
        healthy()
        if main_pid(_other(name)) != other:
            raise NotStoodError(f"killing the {name} brought the other one down")
        _passed(found, f"SIGKILL of the {name}: it comes back, and the other one goes on")
    for name, unit in UNITS.items():
        before = main_pid(unit)
        os.kill(before, signal.SIGSTOP)
        until(lambda u=unit, b=before: main_pid(u) not in {0, b}, f"{name}: the hang stays unseen")
        healthy()
        result = "a watchdog that was not fed"
        _passed(found, f"SIGSTOP of the {name}: {result} ends the hang, and it comes back")
    found["session"] = session()


def _second(found: dict[str, Any]) -> None:
    healthy()
    _passed(found, "after a reboot they are healthy again by themselves")
    if session() != found["session"]:
        raise NotStoodError("the session did not go on after the reboot")
    _passed(found, "and the session goes on")
    subprocess.run(["systemctl", "stop", TARGET_UNIT], check=True)
    until(lambda: not any(map(main_pid, UNITS.values())), "they did not stop")
    _passed(found, "they stop when the target is stopped")


def healthy() -> None:
    """Wait until both are well, as the installation itself judges that."""
    said = "nothing"

    def well() -> bool:
        nonlocal said
        sign = look(Machine(), Box(HOST, PORT))
        said = sign.amiss
        active = all(_show(unit, "ActiveState") == "active" for unit in UNITS.values())
        return sign.pid is not None and sign.pid == main_pid(ENGINE_UNIT) and active

    until(well, lambda: f"not healthy: {said}")


def session() -> int:
    """The number of the newest session in the logbook."""
    database = open_to_read(str(LOGBOOK))
    try:
        newest = Reader(database).session()
    finally:
        database.dispose()
    if newest is None:
        raise NotStoodError("there is no session in the logbook")
    return newest.id


def main_pid(unit: str) -> int:
    """The process that is a unit's; 0 while there is none."""
    return int(_show(unit, "MainPID") or 0)


def _show(unit: str, name: str) -> str:
    asked = ["systemctl", "show", "--value", f"--property={name}", unit]
    return subprocess.run(asked, capture_output=True, text=True, check=True).stdout.strip()


def until(true: Callable[[], object], why: str | Callable[[], str]) -> None:
    """Wait until something is so."""
    end_s = time.monotonic() + WITHIN_S
    while not true():
        if time.monotonic() > end_s:
            raise NotStoodError(why if isinstance(why, str) else why())
        time.sleep(0.5)


def _other(name: str) -> str:
    return UNITS["screen" if name == "engine" else "engine"]


def _nothing() -> dict[str, Any]:
    return {"boots": 0, "passed": [], "failed": "it never began", "session": None}


def _passed(found: dict[str, Any], what: str) -> None:
    found["passed"].append(what)
    _keep(found)
    print(f"stood: {what}", flush=True)


def _keep(found: dict[str, Any]) -> None:
    STOOD.write_text(json.dumps(found))


if __name__ == "__main__":
    main()
