"""Whether an appliance that was started is well: it must say so, and go on saying so."""

from __future__ import annotations

import http.client
import time
from collections.abc import Callable
from contextlib import closing
from dataclasses import dataclass
from pathlib import Path

from firmware_py.health.record import STALE_AFTER_S, EngineHealth, boot_id, now_us, path_of, read

WITHIN_S = 60.0
"""A release that is not well by then is not kept."""
STAYS_S = 10.0
"""So long it must be well without a break: one that falls again and again is well in between."""
LOOK_EVERY_S = 0.5
ASK_WITHIN_S = 3.0


@dataclass(frozen=True, slots=True)
class Sign:
    """One look: the engine's process if it is well, and what is amiss in words otherwise."""

    pid: int | None
    amiss: str = ""


def look(logbook: Path, host: str, port: int) -> Sign:
    """Ask engine and screen once."""
    record = read(path_of(str(logbook), EngineHealth), EngineHealth)
    if record is None or record.boot != boot_id():
        return Sign(None, "the engine has not said anything")
    if now_us() - record.at_us > STALE_AFTER_S * 1_000_000:
        return Sign(None, "the engine has fallen silent")
    if record.state != "guarding":
        return Sign(None, f"the engine is {record.state}")
    halted = [part.name for part in record.parts if not part.moves]
    if halted or not record.parts:
        return Sign(None, f"the engine stands still: {', '.join(halted) or 'all of it'}")
    if (trouble := _screen(host, port)) is not None:
        return Sign(None, f"the screen at {host}:{port}: {trouble}")
    return Sign(record.pid)


def prove(
    seen: Callable[[], Sign],
    *,
    within_s: float = WITHIN_S,
    stays_s: float = STAYS_S,
    clock: Callable[[], float] = time.monotonic,
    sleep: Callable[[float], None] = time.sleep,
) -> str | None:
    """Look until it has been well for ``stays_s``, one process throughout; ``None`` if so.

    Else, once ``within_s`` have passed, what was amiss last.
    """
    until_s = clock() + within_s
    since_s, pid, amiss = 0.0, None, "nothing was heard of it"
    while clock() < until_s:
        sign = seen()
        if sign.pid is None:
            pid, amiss = None, sign.amiss
        elif sign.pid != pid:
            since_s, pid, amiss = clock(), sign.pid, "the engine keeps being started anew"
        elif clock() - since_s >= stays_s:
            return None
        sleep(LOOK_EVERY_S)
    return amiss


def _screen(host: str, port: int) -> str | None:
    near = {"0.0.0.0": "127.0.0.1", "::": "::1"}.get(host, host)
    try:
        with closing(http.client.HTTPConnection(near, port, timeout=ASK_WITHIN_S)) as to:
            to.request("GET", "/health")
            status = to.getresponse().status
    except (OSError, http.client.HTTPException) as error:
        return str(error) or type(error).__name__
    return None if status == 200 else f"it answers with status {status}"
