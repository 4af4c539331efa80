"""Roll tests, and where cars stand: kept by the host."""

from __future__ import annotations

import msgspec
from flask import Blueprint, jsonify, request
from flask.typing import ResponseReturnValue

from firmware_py.dynamics.sound import UnsoundError
from firmware_py.logbook.screen.rolls import Roll, forget_roll, rolls_of, save_roll
from firmware_py.logbook.screen.settings import change, setting
from web.asks import AskError, decoded
from web.backstage import Backstage, wall_us
from web.bodies import body_of
from web.pace.bodies import BackBody, PlaceBody, RollBody
from web.pace.standings import SETTING, places_in, resistance_of

MOST_ROLLS = 500


def pace_rolls(backstage: Backstage) -> Blueprint:
    """The blueprint of ``/api/pace/rolls`` and ``/api/pace/places``."""
    blueprint = Blueprint("pace-rolls", __name__)
    engine, door = backstage.engine, backstage.door

    @blueprint.post("/api/pace/rolls")
    def roll() -> ResponseReturnValue:
        """Keep a roll test."""
        body = decoded(body_of(request), RollBody)
        door.require(request)
        name = backstage.followed().session.layout_name
        try:
            percent = 100 * resistance_of(body.measured)
        except UnsoundError as wrong:
            raise AskError(422, str(wrong)) from None
        if len(rolls_of(engine, name)) >= MOST_ROLLS:
            raise AskError(409, f"there are {MOST_ROLLS} roll tests already; throw some away")
        number = save_roll(engine, name, Roll(body.car.strip(), body.measured), wall_us())
        return jsonify({"roll": number, "percent": percent}), 201

    @blueprint.post("/api/pace/rolls/<int:number>/forget")
    def forget(number: int) -> ResponseReturnValue:
        """Throw a roll test away."""
        decoded(body_of(request), BackBody)
        door.require(request)
        name = backstage.followed().session.layout_name
        if number not in {one.id for one in rolls_of(engine, name)}:
            raise AskError(404, f"there is no roll test {number}; load the page again")
        forget_roll(engine, number)
        return jsonify({"roll": number})

    @blueprint.post("/api/pace/places")
    def place() -> ResponseReturnValue:
        """Keep where cars stand on a spur, and in how many cuts."""
        body = decoded(body_of(request), PlaceBody)
        door.require(request)
        layout = backstage.followed().plan.layout
        spurs = {spur.id for spur in layout.spurs}
        if body.spur not in spurs:
            raise AskError(404, f"there is no spur {body.spur!r} on this layout")
        kept = places_in(setting(engine, SETTING))
        now = {spur: there for spur, there in kept.items() if spur in spurs}
        now[body.spur] = (body.way_mm, body.cuts)
        change(engine, SETTING, msgspec.json.encode(now).decode())
        return jsonify({"spur": body.spur})

    return blueprint
