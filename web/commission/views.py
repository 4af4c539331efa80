"""What the commissioning page shows: the sitting as it is now, and the records there are."""

from __future__ import annotations

from datetime import datetime
from typing import Any

import msgspec

from firmware_py.commissioning.showing import About, Shown
from firmware_py.logbook.commissioning import CommissioningRecord
from firmware_py.logbook.sitting import SittingRecord

View = dict[str, Any]
NO_FAULT = "none"

SAYS = {
    "none": "No test of the wires is going on.",
    "ended": "The test was stopped; all that was seen is kept.",
    "live": "",
    "listening": "Looking whether the test still goes on.",
    "silent": "The test is not heard any more: its program has stopped, or its machine is stuck.",
    "unread": "The logbook can't be read.",
}
"""What each word of a sitting's heart means, and ``unread`` where nothing is known."""


def read_shown(sitting: SittingRecord | None) -> tuple[About, Shown] | None:
    """What a sitting shows; ``None`` without one, or where it can't be understood."""
    if sitting is None:
        return None
    try:
        return (
            msgspec.json.decode(sitting.about, type=About),
            msgspec.json.decode(sitting.shown, type=Shown),
        )
    except msgspec.MsgspecError:
        return None


def sitting_view(sitting: SittingRecord, about: About, shown: Shown) -> View:
    """A sitting, for the page."""
    return {
        "id": sitting.id,
        "about": msgspec.to_builtins(about),
        "shown": msgspec.to_builtins(shown),
    }


def summary(record: CommissioningRecord, now_us: int) -> View:
    """A record in one line."""
    signed = record.signed
    assert signed is not None, "only signed ones are records"
    return {
        "id": record.id,
        "layout": record.layout_name,
        "simulated": record.simulated,
        "date": day(signed.signed_wall_us),
        "by_whom": signed.by_whom,
        "condition_left": signed.condition_left,
        "due": day(signed.due_wall_us),
        "overdue": signed.due_wall_us < now_us,
    }


def fields(record: CommissioningRecord) -> list[tuple[str, list[str]]]:
    """A whole record: each field's heading with its lines, as the terminal prints them."""
    signed = record.signed
    assert signed is not None, "only signed ones are records"
    found = [f"{one['text']}; {one['do']}" for one in record.findings]
    return [
        ("Place", _lines(signed.place)),
        ("Date", [day(signed.signed_wall_us)]),
        ("By whom", _lines(signed.by_whom)),
        ("Equipment", _lines(signed.equipment)),
        ("Found", found or [NO_FAULT]),
        ("Repairs", _lines(signed.repairs)),
        ("Condition left", _lines(signed.condition_left)),
        ("Next due", [day(signed.due_wall_us)]),
        ("Results", _lines(signed.results)),
    ]


def day(wall_us: int) -> str:
    """A day, as the terminal prints it."""
    return f"{datetime.fromtimestamp(wall_us / 1_000_000):%Y-%m-%d}"


def _lines(text: str) -> list[str]:
    return text.splitlines() or [NO_FAULT]
