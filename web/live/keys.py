"""Where each key is: on its hook, or out and with whom, as far as anybody can know."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from typing import Any

from firmware_py.layout.model import Key
from firmware_py.logbook.records import StandingRecord
from web.live.crews import AtWork
from web.live.plan import Plan

NOBODY = "nobody named"


def keys_view(
    plan: Plan, standing: Mapping[str, StandingRecord], working: Sequence[AtWork], *, live: bool
) -> dict[str, Any]:
    """Every key by its id: ``state`` (home, out, unknown), ``says``, ``with``, ``fits``, ``since``.

    ``since_wall_us`` is when the hook last changed, ``None`` while the key is at home.
    """
    return {key.id: _key(key, plan, standing, working, live=live) for key in plan.layout.keys}


def _key(
    key: Key,
    plan: Plan,
    standing: Mapping[str, StandingRecord],
    working: Sequence[AtWork],
    *,
    live: bool,
) -> dict[str, Any]:
    hook = standing.get(key.hook.name)
    home = hook.settled if hook and live else None
    fits = plan.rows_of(key.id)
    held = "" if home else with_whom(key.id, fits, working)
    state, says = _state(home, held)
    return {
        "id": key.id,
        "name": key.name,
        "state": state,
        "says": says,
        "with": held,
        "fits": [plan.rows[row].name for row in fits],
        "since_wall_us": hook.wall_us if hook and home is False else None,
    }


def _state(home: bool | None, held: str) -> tuple[str, str]:
    if home is None:
        return "unknown", "unknown: look at its hook"
    if home:
        return "home", "on its hook"
    return "out", f"out, {NOBODY}" if held == NOBODY else f"out, with {held}"


def with_whom(key: str, fits: Iterable[str], working: Sequence[AtWork]) -> str:
    """Who has a key that is out, by the jobs: no contact can tell.

    A crew that is where the key fits comes first, then those under way whose jobs list it, then
    those whose jobs list it and have not begun.
    """
    listed = [one for one in working if key in one.job.keys]
    places = set(fits)
    choices = (
        [one for one in listed if one.here in places],
        [one for one in listed if one.under_way],
        [one for one in working if one.here in places],
        [one for one in listed if one.ahead],
    )
    likely = next((choice for choice in choices if choice), [])
    return " or ".join(one.called for one in likely) or NOBODY
