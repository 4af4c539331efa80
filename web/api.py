"""The screen's JSON: the state, its stream of events, and what pages may ask for.

Every answer but the stream is a JSON object; a refused request's has ``error``, in plain words.
"""

from __future__ import annotations

import contextlib

from flask import Blueprint, Response, jsonify, request
from flask.typing import ResponseReturnValue

from firmware_py.logbook.errors import LogbookError
from firmware_py.logbook.requests import leave_hand, leave_order
from web.access.door import Door
from web.asks import AskError, HandBody, OrderBody, decoded, judge_hand, judge_order
from web.backstage import Backstage, wall_us
from web.bench.telling import TOPIC
from web.bodies import body_of
from web.describing import description
from web.live.hub import BOARD
from web.live.streams import Feed

SPARED_BY_GUESTS = 1 / 6
"""Whoever only watches leaves this share of all places to the host and to the crews."""


def api(backstage: Backstage) -> Blueprint:
    """The blueprint with everything under ``/api``, and ``/health``."""
    blueprint = Blueprint("api", __name__)
    follower = backstage.follower

    @blueprint.get("/health")
    def health() -> ResponseReturnValue:
        """200 while the screen follows the logbook, whatever the engine does; 503 else."""
        well = not follower.stuck and follower.hub.state() is not None
        about = {"ok": well, "live": follower.live, "streams": follower.hub.streams}
        return jsonify(about), 200 if well else 503

    @blueprint.get("/api/openapi.json")
    def openapi() -> ResponseReturnValue:
        """What all of this is, for programs: an OpenAPI description."""
        return jsonify(description())

    @blueprint.get("/api/state")
    def state() -> ResponseReturnValue:
        """The whole screen as it was last drawn."""
        drawn = follower.hub.state()
        if drawn is None or follower.stuck:
            raise AskError(503, "the screen has not read the logbook yet; try again in a moment")
        return Response(drawn.data, mimetype="application/json")

    @blueprint.get("/api/events")
    def events() -> ResponseReturnValue:
        """The stream: ``state`` first, then ``patch``, ``beat`` and, to catch up, ``entries``.

        With ``?bench`` also what only the bench shows: ``bench`` and ``bench-patch``.
        """
        beside = (TOPIC,) if "bench" in request.args else ()
        subscribed = follower.hub.subscribe(BOARD, *beside, spared=_spared(backstage.door))
        if subscribed is None:
            most = follower.hub.most
            raise AskError(503, f"{most} screens are open already; close one of them")
        stream, first = subscribed
        feed = Feed(backstage.reader, follower, stream, _last_id())
        headers = {"X-Accel-Buffering": "no"}
        response = Response(feed.frames(first), mimetype="text/event-stream", headers=headers)
        # A stream that nobody ever read from (a HEAD request) has to give its place back too.
        response.call_on_close(lambda: follower.hub.leave(stream))
        return response

    @blueprint.post("/api/orders")
    def orders() -> ResponseReturnValue:
        """Leave a command for the engine: 202 with the request's number."""
        body = decoded(body_of(request), OrderBody)
        backstage.door.require(request)
        judge_order(body, follower.followed, live=follower.live)
        return _left(
            leave_order(
                backstage.engine,
                body.command,
                spur=body.spur,
                violation=body.violation,
                cars=body.cars,
                note=body.note or None,
                wall_us=wall_us(),
            )
        )

    @blueprint.post("/api/hands")
    def hands() -> ResponseReturnValue:
        """Make, break or cut a simulated contact: 202 with the request's number."""
        body = decoded(body_of(request), HandBody)
        backstage.door.require(request)
        judge_hand(body, follower.followed, live=follower.live, allowed=backstage.hands)
        return _left(leave_hand(backstage.engine, body.contact, body.made, wall_us()))

    @blueprint.get("/api/requests/<int:number>")
    def answer(number: int) -> ResponseReturnValue:
        """What the engine answered to a request: ``accepted`` is null until it has."""
        try:
            left = backstage.reader.request(min(number, 2**62))
        except LogbookError:
            raise AskError(404, f"there is no request {number}") from None
        return jsonify({"request": left.id, "accepted": left.accepted, "why": left.why})

    return blueprint


def _spared(door: Door) -> float:
    """A logbook that can't be read is no reason to refuse whoever only wants to see that."""
    with contextlib.suppress(LogbookError):
        if door.token(request):
            return 0.0
    return SPARED_BY_GUESTS


def _left(number: int) -> ResponseReturnValue:
    return jsonify({"request": number}), 202


def _last_id() -> int | None:
    given = request.headers.get("Last-Event-ID") or request.args.get("after", "")
    return int(given) if given.isascii() and given.isdigit() and len(given) < 19 else None
