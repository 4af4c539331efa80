"""The host's sign-in, as JSON."""

from __future__ import annotations

from typing import Annotated

import msgspec
from flask import Blueprint, Response, jsonify, request
from flask.typing import ResponseReturnValue

from web.access.door import COOKIE, LASTS_S, Door
from web.asks import decoded
from web.bodies import body_of

CALLS = 10
"""How many calls at the door the host is shown."""


class PinBody(msgspec.Struct, forbid_unknown_fields=True):
    """What a browser gives at the door."""

    pin: Annotated[str, msgspec.Meta(min_length=1, max_length=64)]


class NoBody(msgspec.Struct, forbid_unknown_fields=True):
    """Nothing: ``{}``, where there is nothing to say."""


def access(door: Door) -> Blueprint:
    """The blueprint of ``/api/me`` and everything at ``/api/host``."""
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
        decoded(body_of(request), NoBody)
        door.require(request)
        door.leave(request)
        response: Response = jsonify({"host": False})
        response.delete_cookie(COOKIE, path="/", samesite="Strict", httponly=True)
        return response

    @blueprint.get("/api/host/door")
    def calls() -> ResponseReturnValue:
        """The last calls at the door, newest first: for the host to see who else tried."""
        door.require(request)
        told = [
            {"wall_us": call.wall_us, "what": call.what, "whence": call.whence}
            for call in door.calls(CALLS)
        ]
        return jsonify({"calls": told})

    return blueprint
