"""The Pace page's JSON about track: traps and their distances, chocks, brake tests."""

from __future__ import annotations

import msgspec
from flask import Blueprint, jsonify, request
from flask.typing import ResponseReturnValue

from firmware_py.dynamics.air import Work
from firmware_py.dynamics.scale_speed import scale_mph
from firmware_py.dynamics.sound import UnsoundError
from firmware_py.dynamics.trapping import SPACING_MM, TIMING_S, corrected_spacing
from firmware_py.layout.model import Layout, Trap
from firmware_py.logbook.screen.rolls import rolls_of
from firmware_py.logbook.screen.settings import setting
from web.asks import AskError, decoded
from web.backstage import Backstage
from web.bodies import body_of
from web.pace.air import air_view
from web.pace.bodies import AirQuery, CalibrationBody
from web.pace.standings import (
    REAL_PERCENT,
    SETTING,
    places_in,
    roll_views,
    sound,
    standing_views,
)


def pace_track(backstage: Backstage) -> Blueprint:
    """The blueprint of ``/api/pace/track`` and of what is measured on it."""
    blueprint = Blueprint("pace-track", __name__)
    engine, door = backstage.engine, backstage.door

    @blueprint.get("/api/pace/track")
    def read() -> ResponseReturnValue:
        """Traps, roll tests, and what becomes of cars left on each spur."""
        followed = backstage.followed()
        layout = followed.plan.layout
        rolls = sound(rolls_of(engine, followed.session.layout_name))
        return jsonify(
            {
                "ratio": layout.ratio,
                "clock_ratio": layout.clock_ratio,
                "chock_from_percent": layout.chock_from_percent,
                "spacing_mm": SPACING_MM,
                "timing_ms": 1000 * TIMING_S,
                "real_percent": round(REAL_PERCENT, 3),
                "traps": [trap_view(trap) for trap in layout.traps],
                "rolls": roll_views(rolls),
                "spurs": standing_views(layout, rolls, places_in(setting(engine, SETTING))),
            }
        )

    @blueprint.post("/api/pace/calibration")
    def calibrate() -> ResponseReturnValue:
        """A trap's corrected distance, as the line to put into the layout file."""
        body = decoded(body_of(request), CalibrationBody)
        door.require(request)
        layout = backstage.followed().plan.layout
        return jsonify(calibration(body, layout))

    @blueprint.get("/api/pace/air")
    def air() -> ResponseReturnValue:
        """A brake test worked out beforehand; it starts none."""
        try:
            asked = msgspec.convert(request.args.to_dict(), AirQuery, strict=False)
        except msgspec.ValidationError as wrong:
            raise AskError(400, f"this can't be worked out: {wrong}") from None
        ratio = backstage.followed().plan.layout.clock_ratio
        try:
            return jsonify(air_view(asked.cars, asked.miles, Work(asked.work), ratio))
        except UnsoundError as wrong:
            raise AskError(422, str(wrong)) from None

    return blueprint


def trap_view(trap: Trap) -> dict[str, object]:
    """A trap as the layout has it."""
    return {
        "id": trap.id,
        "name": trap.name,
        "first": trap.first,
        "second": trap.second,
        "distance_mm": trap.distance_mm,
        "limit_mph": trap.limit_mph,
        "lamp": trap.lamp is not None,
    }


def calibration(body: CalibrationBody, layout: Layout) -> dict[str, object]:
    """The answer to a calibration. Raises ``AskError`` with a plain word."""
    trap = next((one for one in layout.traps if one.id == body.trap), None)
    if trap is None:
        raise AskError(404, f"there is no trap {body.trap!r} on this layout")
    try:
        found = corrected_spacing(trap.distance_mm, body.shown, _true_mph(body, layout.ratio))
    except UnsoundError as wrong:
        raise AskError(422, str(wrong)) from None
    return {
        "trap": trap.id,
        "was_mm": found.was_mm,
        "distance_mm": round(found.distance_mm, 1),
        "sigma_mm": None if found.sigma_mm is None else round(found.sigma_mm, 2),
        "line": f"distance_mm = {found.distance_mm:.1f}",
    }


def _true_mph(body: CalibrationBody, ratio: float) -> float:
    timed = body.distance_mm is not None and body.seconds is not None
    if body.true_mph is not None and body.distance_mm is None and body.seconds is None:
        return body.true_mph
    if timed and body.true_mph is None and body.distance_mm and body.seconds:
        return scale_mph(body.distance_mm, body.seconds, ratio)
    raise AskError(
        422, 'give the long distance with its time ("distance_mm", "seconds"), or "true_mph"'
    )
