"""The bench's page, and the host's hand at outputs."""

from __future__ import annotations

from typing import Literal

import msgspec
from flask import Blueprint, jsonify, render_template, request
from flask.typing import ResponseReturnValue

from firmware_py.core.by_hand import called, objection, thing_of
from firmware_py.core.names import Shows
from firmware_py.logbook.requests import BACK, leave_by_hand
from web.asks import AskError, Text, answered, decoded
from web.backstage import Backstage, wall_us
from web.bench.view import believed
from web.bodies import body_of
from web.live.log import Followed


class ByHandBody(msgspec.Struct, forbid_unknown_fields=True):
    """A hand at an output, ``thing.output``; ``back`` takes it off again."""

    output: Text
    shows: Literal["steady", "flashing", "off", "drawn", "shut", "on", "back"]


def judge_by_hand(body: ByHandBody, followed: Followed | None, *, live: bool) -> None:
    """Raise ``AskError`` unless a hand may do this now. The engine judges it once more."""
    followed = answered(followed, live=live)
    layout = followed.plan.layout
    of, _, output = body.output.partition(".")
    thing = thing_of(layout, of, output)
    if thing is None:
        raise AskError(404, f"there is no output {body.output!r} on this layout")
    if body.shows == BACK:
        if body.output not in followed.by_hand:
            raise AskError(409, f"no hand is at the {called(thing, output)}")
        return
    known = believed(followed, live=live)
    opened = followed.session.opened
    why = objection(layout, thing, output, Shows(body.shows), known, opened=opened)
    if why is not None:
        raise AskError(409, why)


def bench_room(backstage: Backstage) -> Blueprint:
    """The blueprint of ``/bench`` and everything under ``/api/bench``."""
    blueprint = Blueprint("bench", __name__)
    follower = backstage.follower

    @blueprint.get("/bench")
    def bench() -> ResponseReturnValue:
        """The page."""
        return render_template("bench.html", hands=backstage.hands)

    @blueprint.post("/api/bench/outputs")
    def outputs() -> ResponseReturnValue:
        """Work an output by hand, or take the hand off: 202 with the request's number."""
        body = decoded(body_of(request), ByHandBody)
        backstage.door.require(request)
        judge_by_hand(body, follower.followed, live=follower.live)
        whence = request.remote_addr or "an unknown address"
        left = leave_by_hand(backstage.engine, body.output, body.shows, whence, wall_us())
        return jsonify({"request": left}), 202

    return blueprint
