"""The commissioning page, its JSON and its stream, and the records on paper."""

from __future__ import annotations

import contextlib
import time

import msgspec
from flask import Blueprint, Response, jsonify, render_template, request
from flask.typing import ResponseReturnValue

from firmware_py.commissioning.asking import Asked
from firmware_py.logbook.commissioning import record_of
from firmware_py.logbook.errors import LogbookError
from firmware_py.logbook.requests import leave_asked
from web.asks import AskError, decoded
from web.backstage import Backstage, wall_us
from web.bodies import body_of
from web.commission.asks import judge_asked
from web.commission.following import TOPIC, Following
from web.commission.views import fields, summary
from web.live.streams import Feed

SPARED_BY_GUESTS = 1 / 6
"""As on the board: whoever only watches leaves this share of all places to the host."""
LARGEST_BODY = 64 * 1024
"""A record's words, however they are escaped."""


def commission_room(backstage: Backstage) -> Blueprint:
    """The blueprint of ``/commission`` and ``/api/commission``."""
    blueprint = Blueprint("commission", __name__)
    follower = backstage.follower
    following = Following(backstage.engine, backstage.reader, follower.hub)

    @blueprint.get("/commission")
    def page() -> ResponseReturnValue:
        """The page that leads a builder through every wire."""
        return render_template("commission.html")

    @blueprint.get("/commission/records/<int:number>")
    def record(number: int) -> ResponseReturnValue:
        """A signed record, to read and to print."""
        found = record_of(backstage.engine, min(number, 2**62))
        if found is None:
            raise AskError(404, f"there is no record {number}")
        head = summary(found, time.time_ns() // 1000)
        return render_template("commission_record.html", head=head, fields=fields(found))

    @blueprint.get("/api/commission")
    def view() -> ResponseReturnValue:
        """The page as it was last drawn."""
        drawn = following.view()
        if drawn is None:
            raise AskError(503, "the screen has not read the logbook yet; try again in a moment")
        return Response(msgspec.json.encode(drawn), mimetype="application/json")

    @blueprint.get("/api/commission/events")
    def events() -> ResponseReturnValue:
        """The stream: ``commission``, the whole page, at each change, and ``beat`` between."""
        following.view()
        subscribed = follower.hub.subscribe(TOPIC, spared=_spared(backstage))
        if subscribed is None:
            raise AskError(503, f"{follower.hub.most} screens are open already; close one of them")
        stream, first = subscribed
        feed = Feed(backstage.reader, follower, stream, None)
        headers = {"X-Accel-Buffering": "no"}
        response = Response(feed.frames(first), mimetype="text/event-stream", headers=headers)
        response.call_on_close(lambda: follower.hub.leave(stream))
        return response

    @blueprint.post("/api/commission/asked")
    def asked() -> ResponseReturnValue:
        """Leave something for the sitting: 202 with the request's number."""
        request.max_content_length = LARGEST_BODY
        body = decoded(body_of(request), Asked)
        backstage.door.require(request)
        judge_asked(body, following.view())
        told = msgspec.json.encode(body).decode()
        return jsonify({"request": leave_asked(backstage.engine, told, wall_us())}), 202

    return blueprint


def _spared(backstage: Backstage) -> float:
    """A logbook that can't be read is no reason to refuse whoever only wants to see that."""
    with contextlib.suppress(LogbookError):
        if backstage.door.token(request):
            return 0.0
    return SPARED_BY_GUESTS
