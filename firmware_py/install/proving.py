"""Whether an appliance that was started is well: it must say so, and go on saying so."""

from __future__ import annotations

import http.client
import time
from collections.abc import Callable
from contextlib import closing
from dataclasses import dataclass
from typing import TypeVar

from firmware_py.health.record import (
    STALE_AFTER_S,
    CourierHealth,
    EngineHealth,
    GathererHealth,
    boot_id,
    now_us,
    path_of,
    read,
)
from firmware_py.install.machine import Machine
from firmware_py.install.places import Box

WITHIN_S = 60.0
"""A release that is not well by then is not kept."""
STAYS_S = 10.0
"""So long it must be well without a break: one that falls again and again is well in between."""
LOOK_EVERY_S = 0.5
ASK_WITHIN_S = 3.0


@dataclass(frozen=True, slots=True)
class Sign:
    """One look: the first process if all is well, and what is amiss in words otherwise.

    That is the engine, or on a board host the gatherer; ``courier`` is a box's courier.
    """

    pid: int | None
    amiss: str = ""
    courier: int | None = None


def look(machine: Machine, box: Box) -> Sign:
    """Ask each process once. A broker that is away is nobody's fault here."""
    logbook = box.database if box.kept is None else str(machine.at(box.kept))
    sign = _gatherer(logbook) if box.is_board else _engine(logbook)
    if sign.pid is None:
        return sign
    if (trouble := _screen(box.host, box.port)) is not None:
        return Sign(None, f"the screen at {box.host}:{box.port}: {trouble}")
    if box.club is None or box.is_board:
        return sign
    courier = _fresh(logbook, CourierHealth, "courier")
    if isinstance(courier, str):
        return Sign(None, courier)
    if courier.logbook is not None:
        return Sign(None, f"the courier: {courier.logbook}")
    return Sign(sign.pid, courier=courier.pid)


def _engine(logbook: str) -> Sign:
    record = _fresh(logbook, EngineHealth, "engine")
    if isinstance(record, str):
        return Sign(None, record)
    if record.state != "guarding":
        return Sign(None, f"the engine is {record.state}")
    halted = [part.name for part in record.parts if not part.moves]
    if halted or not record.parts:
        return Sign(None, f"the engine stands still: {', '.join(halted) or 'all of it'}")
    return Sign(record.pid)


def _gatherer(logbook: str) -> Sign:
    record = _fresh(logbook, GathererHealth, "gatherer")
    if isinstance(record, str):
        return Sign(None, record)
    if record.database is not None:
        return Sign(None, f"the gatherer can't write: {record.database}")
    return Sign(record.pid)


Told = TypeVar("Told", EngineHealth, CourierHealth, GathererHealth)


def _fresh(logbook: str, kind: type[Told], called: str) -> Told | str:
    """What a process says of itself now, or in words that it says nothing."""
    record = read(path_of(logbook, kind), kind)
    if record is None or record.boot != boot_id():
        return f"the {called} has not said anything"
    if now_us() - record.at_us > STALE_AFTER_S * 1_000_000:
        return f"the {called} has fallen silent"
    return record


def prove(
    seen: Callable[[], Sign],
    *,
    within_s: float = WITHIN_S,
    stays_s: float = STAYS_S,
    clock: Callable[[], float] = time.monotonic,
    sleep: Callable[[float], None] = time.sleep,
) -> str | None:
    """Look until all has been well for ``stays_s``, the same throughout; ``None`` if so.

    Else, once ``within_s`` have passed, what was amiss last.
    """
    until_s = clock() + within_s
    same: tuple[int | None, int | None] = (None, None)
    since_s, amiss = 0.0, "nothing was heard of it"
    while clock() < until_s:
        sign = seen()
        if sign.pid is None:
            same, amiss = (None, None), sign.amiss
        elif (now := (sign.pid, sign.courier)) != same:
            which = "the courier" if same[0] == sign.pid else "it"
            since_s, same, amiss = clock(), now, f"{which} keeps being started anew"
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
