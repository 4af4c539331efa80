"""The host's settings: what they are called, what they may be, and what they are if never set."""

from __future__ import annotations

import json
from collections.abc import Mapping
from typing import Annotated, Any

import msgspec
from flask import Blueprint, jsonify, request
from flask.typing import ResponseReturnValue

from firmware_py.forecast.dial import DIAL, kept_scale
from firmware_py.forecast.words import LEAST_SCALE, MOST_SCALE
from firmware_py.logbook.screen.settings import change, settings
from firmware_py.logbook.screen.ticks import Step
from web.asks import AskError, decoded
from web.backstage import Backstage
from web.bodies import body_of
from web.jobs.addresses import AddressError, tidy_address
from web.live.clocks import DEFAULT_START, time_of_day_us
from web.live.clocks import SETTING as CLOCK_START

ADDRESS, CREW_STEPS, WAITING_CEILING, SOUND = "address", "crew-steps", "waiting-ceiling", "sound"
OWN_STEPS = (Step.YARD, Step.REAR, Step.HORN, Step.STRETCH)
"""The crew's own steps, which no contact can see and which the host may switch off."""
USUAL_CEILING = 25

Kept = Mapping[str, str]
"""The settings as the logbook keeps them."""

Scale = Annotated[float, msgspec.Meta(ge=LEAST_SCALE, le=MOST_SCALE)]
"""Paced waits as a multiple of the layout's own; the engine takes it as a session opens."""
OwnStep = Annotated[str, msgspec.Meta(pattern=f"^({'|'.join(OWN_STEPS)})$")]


class SettingsBody(
    msgspec.Struct, forbid_unknown_fields=True, rename=lambda n: n.replace("_", "-")
):
    """The settings to change; those left out stay as they are."""

    address: str | msgspec.UnsetType = msgspec.UNSET
    crew_steps: list[OwnStep] | msgspec.UnsetType = msgspec.UNSET
    waiting_ceiling: Annotated[int, msgspec.Meta(ge=0, le=100)] | msgspec.UnsetType = msgspec.UNSET
    sound: bool | msgspec.UnsetType = msgspec.UNSET
    layout_clock_start: str | msgspec.UnsetType = msgspec.UNSET
    pace_dial: Scale | msgspec.UnsetType = msgspec.UNSET


def crew_steps(kept: Kept) -> tuple[Step, ...]:
    """The crew's own steps that are switched on, in their order; all of them if never set."""
    try:
        chosen = json.loads(kept[CREW_STEPS])
    except (KeyError, ValueError):
        return OWN_STEPS
    return tuple(step for step in OWN_STEPS if isinstance(chosen, list) and step in chosen)


def waiting_ceiling(kept: Kept) -> int:
    """The most of a session that crews should spend waiting, in percent."""
    text = kept.get(WAITING_CEILING, "")
    return int(text) if text.isascii() and text.isdigit() else USUAL_CEILING


def sound(kept: Kept) -> bool:
    """Whether the host wants to hear what waits for him."""
    return kept.get(SOUND) == "on"


def address(kept: Kept) -> str:
    """The address that phones are to use; empty where that of the request is used."""
    return kept.get(ADDRESS, "")


def settings_view(kept: Kept) -> dict[str, Any]:
    """The settings that everybody may see."""
    return {
        ADDRESS: address(kept),
        CREW_STEPS: [str(step) for step in crew_steps(kept)],
        WAITING_CEILING: waiting_ceiling(kept),
        SOUND: sound(kept),
        CLOCK_START: kept.get(CLOCK_START, DEFAULT_START),
        DIAL: kept_scale(kept.get(DIAL)),
    }


def settings_api(backstage: Backstage) -> Blueprint:
    """The blueprint of ``/api/settings``."""
    blueprint = Blueprint("settings", __name__)

    @blueprint.get("/api/settings")
    def read() -> ResponseReturnValue:
        """The settings that everybody may see."""
        return jsonify(settings_view(settings(backstage.engine)))

    @blueprint.post("/api/settings")
    def write() -> ResponseReturnValue:
        """Change those that are sent; the answer has all of them."""
        body = decoded(body_of(request), SettingsBody)
        backstage.door.require(request)
        for name, value in _kept(body, request.host_url).items():
            change(backstage.engine, name, value)
        return jsonify(settings_view(settings(backstage.engine)))

    return blueprint


def _kept(body: SettingsBody, own: str) -> dict[str, str | None]:
    """What is to be kept of a body; ``None`` forgets one."""
    changes: dict[str, str | None] = {}
    if body.address is not msgspec.UNSET:
        try:
            changes[ADDRESS] = tidy_address(body.address, own) or None
        except AddressError as wrong:
            raise AskError(409, str(wrong)) from None
    if body.crew_steps is not msgspec.UNSET:
        chosen = body.crew_steps
        changes[CREW_STEPS] = json.dumps([str(step) for step in OWN_STEPS if step in chosen])
    if body.waiting_ceiling is not msgspec.UNSET:
        changes[WAITING_CEILING] = str(body.waiting_ceiling)
    if body.sound is not msgspec.UNSET:
        changes[SOUND] = "on" if body.sound else "off"
    if body.layout_clock_start is not msgspec.UNSET:
        changes[CLOCK_START] = _time(body.layout_clock_start)
    if body.pace_dial is not msgspec.UNSET:
        changes[DIAL] = repr(body.pace_dial)
    return changes


def _time(text: str) -> str | None:
    text = " ".join(text.split())
    if text and time_of_day_us(text) is None:
        raise AskError(409, f"a time of day looks like {DEFAULT_START} or 20:15")
    return text or None
