"""The host's sign-in, as JSON."""

from __future__ import annotations

from typing import Annotated

import msgspec
from flask import Blueprint, Response, jsonify, request
from flask.typing import ResponseReturnValue

from web.access.door import COOKIE, LASTS_S, Door
from web.asks import decoded
from web.bodies import body_of


class PinBody(msgspec.Struct, forbid_unknown_fields=True):
    """What a browser gives at the door."""

    pin: Annotated[str, msgspec.Meta(min_length=1, max_length=64)]


def access(door: Door) -> Blueprint:
    """The blueprint of ``/api/me`` and ``/api/host``."""
    blueprint = Blueprint("access", __name__)

    @blueprint.get("/api/me")
    def me() -> ResponseReturnValue:
        """Whether this browser is the host's, and the token its pages send along if it is."""
        token = door.token(request)
        return jsonify({"host": token is not None, "token": token, "pin_is_set": door.has_pin})

    @blueprint.post("/api/host")
    def enter() -> ResponseReturnValue:
        """Sign the browser in with the host's PIN."""
        given = decoded(body_of(request), PinBody)
        made = door.enter(given.pin, request.remote_addr or "")
        response = jsonify({"host": True, "token": made.token})
        response.set_cookie(
            COOKIE, made.cookie, max_age=LASTS_S, httponly=True, samesite="Strict", path="/"
        )
        return response

    @blueprint.post("/api/host/leave")
    def leave() -> ResponseReturnValue:
        """Sign the browser out."""
        body_of(request)
        door.require(request)
        door.leave(request)
        response: Response = jsonify({"host": False})
        response.delete_cookie(COOKIE, path="/", samesite="Strict", httponly=True)
        return response

    return blueprint
