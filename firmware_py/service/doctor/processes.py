"""Pins, engine and screen: what the running processes say of themselves."""

from __future__ import annotations

import http.client
import json
from contextlib import closing
from pathlib import Path
from urllib.parse import urlsplit

from firmware_py.health.record import (
    STALE_AFTER_S,
    ApplianceHealth,
    EngineHealth,
    boot_id,
    path_of,
    read,
)
from firmware_py.service.doctor.findings import Case, Finding, care, span, untold, well

ANSWERS_WITHIN_S = 3.0
START = "start it with: spurlock run LAYOUT"


def engine(case: Case) -> tuple[Finding, EngineHealth | None]:
    """How the engine fares, and its own words where they are fresh."""
    record = read(path_of(case.logbook, EngineHealth, case.root), EngineHealth)
    if record is None or record.boot != boot_id(case.root):
        return care("engine", "no engine runs on this logbook", START), None
    age_s = (case.steady_us() - record.at_us) / 1_000_000
    if age_s > STALE_AFTER_S:
        return _silent(case, record, age_s), None
    return _alive(record), record


def pins(case: Case, record: EngineHealth | None) -> Finding:
    """How wires and chips fare, by the engine's own words or, without one, by the devices."""
    if record is not None:
        if record.troubles:
            do = "look at the cable, the supply and the chip named; it heals by itself after that"
            return care("pins", "; ".join(record.troubles), do)
        return well("pins", "simulated" if record.simulated else "every wire and chip answers")
    chips = sorted(path.name for path in (case.root / "dev").glob("gpiochip*"))
    if not chips:
        return untold("pins", "this machine has no GPIO; simulated pins are all it can have")
    return untold("pins", f"no engine runs to try them; there is {', '.join(chips)}")


def screen(case: Case, start: str = START) -> Finding:
    """Whether the screen answers at the address that the appliance gave it."""
    record = read(path_of(case.logbook, ApplianceHealth, case.root), ApplianceHealth)
    if record is None or record.boot != boot_id(case.root) or not _runs(case.root, record.pid):
        return care("screen", "nothing runs on this logbook that would have one", start)
    status, body = _ask(record.screen)
    if status is None:
        do = "it is started again by itself; if this lasts, read what it prints, or the journal"
        return care("screen", f"{record.screen} does not answer ({body})", do)
    if status != 200:
        return care("screen", f"{record.screen} can't follow the logbook", "see logbook and disk")
    return well("screen", f"{record.screen} answers; {_streams(body)}")


def _silent(case: Case, record: EngineHealth, age_s: float) -> Finding:
    says = f"nothing was heard of it for {span(age_s)}"
    if _runs(case.root, record.pid):
        do = f"it hangs: end process {record.pid}, and it is started anew"
        return care("engine", f"{says}, though process {record.pid} is there", do)
    return care("engine", f"{says}: it is gone", f"treat every switch as red, and {START}")


def _alive(record: EngineHealth) -> Finding:
    halted = [f"{part.name}: {part.trouble}" for part in record.parts if not part.moves]
    if halted:
        do = "treat every switch as red; stop it, and start it again"
        return care("engine", f"it stands still: {'; '.join(halted)}", do)
    hindered = [f"{part.name}: {part.trouble}" for part in record.parts if part.trouble]
    if hindered:
        waiting = f"; {record.queued} records wait in memory" if record.queued else ""
        do = "guarding goes on; mend what is named, and what waits is written"
        return care("engine", "; ".join(hindered) + waiting, do)
    if record.drops or record.raised:
        says = f"{record.drops} readings came too fast, {record.raised} listeners failed"
        return care("engine", f"{record.state}, but {says}", "read the remarks in the log")
    return well("engine", f"{record.state} {record.layout}")


def _runs(root: Path, pid: int) -> bool:
    return (root / "proc" / str(pid)).is_dir()


def _ask(url: str) -> tuple[int | None, str]:
    """GET the screen's health address: status and body, or ``None`` and why not."""
    at = urlsplit(url)
    try:
        with closing(
            http.client.HTTPConnection(at.hostname or "", at.port, timeout=ANSWERS_WITHIN_S)
        ) as to:
            to.request("GET", "/health")
            answer = to.getresponse()
            return answer.status, answer.read(10_000).decode("utf-8", "replace")
    except (OSError, http.client.HTTPException) as error:
        return None, str(error) or type(error).__name__


def _streams(body: str) -> str:
    try:
        count = int(json.loads(body)["streams"])
    except (ValueError, KeyError, TypeError):
        return "it does not say how many pages are open"
    return "1 page is open" if count == 1 else f"{count} pages are open"
