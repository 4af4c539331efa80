"""The Pace page's JSON about locomotives: to read for everybody, to measure for the host."""

from __future__ import annotations

from flask import Blueprint, jsonify, request
from flask.typing import ResponseReturnValue

from firmware_py.logbook.screen.locomotives import (
    Locomotive,
    Passing,
    drop_locomotive,
    locomotives_of,
    save_locomotive,
)
from web.asks import AskError, decoded
from web.backstage import Backstage, wall_us
from web.bodies import body_of
from web.live.log import Followed
from web.pace.bodies import BackBody, ForgetBody, LocomotiveBody, PassBody, RunBody, StopChange
from web.pace.locomotives import (
    MOST_LOCOMOTIVES,
    filled,
    locomotive_view,
    question_of,
    with_run,
    with_stop,
    without_run,
)
from web.reckoning import reckon

FITTING = "web.pace.fitting"


def pace_locomotives(backstage: Backstage) -> Blueprint:
    """The blueprint of ``/api/pace/locomotives`` and of what is done with one of them."""
    blueprint = Blueprint("pace-locomotives", __name__)
    engine, door = backstage.engine, backstage.door

    def known(number: int) -> tuple[Followed, Locomotive]:
        followed = backstage.followed()
        return followed, one_of(locomotives_of(engine, followed.session.layout_name), number)

    def kept(followed: Followed, one: Locomotive) -> ResponseReturnValue:
        save_locomotive(engine, followed.session.layout_name, one, wall_us())
        return jsonify(locomotive_view(one))

    @blueprint.get("/api/pace/locomotives")
    def read() -> ResponseReturnValue:
        """The layout's locomotives by their names."""
        name = backstage.followed().session.layout_name
        return jsonify({"locomotives": [*map(locomotive_view, locomotives_of(engine, name))]})

    @blueprint.post("/api/pace/locomotives")
    def save() -> ResponseReturnValue:
        """Make one, or put it in the place of that with its id."""
        body = decoded(body_of(request), LocomotiveBody)
        door.require(request)
        followed = backstage.followed()
        present = locomotives_of(engine, followed.session.layout_name)
        if not body.id and len(present) >= MOST_LOCOMOTIVES:
            raise AskError(409, f"there are {MOST_LOCOMOTIVES} locomotives already; drop some")
        one = filled(body, one_of(present, body.id) if body.id else None)
        number = save_locomotive(engine, followed.session.layout_name, one, wall_us())
        return jsonify({"locomotive": number}), 200 if body.id else 201

    @blueprint.post("/api/pace/locomotives/<int:number>/drop")
    def drop(number: int) -> ResponseReturnValue:
        """Take one away, or bring it back."""
        body = decoded(body_of(request), BackBody)
        door.require(request)
        name = backstage.followed().session.layout_name
        if not drop_locomotive(engine, name, number, None if body.back else wall_us()):
            raise none_of(number)
        return jsonify({"locomotive": number, "dropped": not body.back})

    @blueprint.post("/api/pace/locomotives/<int:number>/runs")
    def run(number: int) -> ResponseReturnValue:
        """Keep a pass: one that the log holds, or a speed that somebody read off."""
        body = decoded(body_of(request), RunBody)
        door.require(request)
        followed, one = known(number)
        mph = speed_of(body.passed, followed) if body.passed else body.mph
        if mph is None or (body.passed and body.mph is not None):
            raise AskError(422, 'give one of the two: "passed" for a pass of the log, or "mph"')
        return kept(followed, with_run(one, Passing(body.step, body.forward, mph)))

    @blueprint.post("/api/pace/locomotives/<int:number>/runs/forget")
    def forget(number: int) -> ResponseReturnValue:
        """Throw a pass away."""
        body = decoded(body_of(request), ForgetBody)
        door.require(request)
        followed, one = known(number)
        return kept(followed, without_run(one, body.place))

    @blueprint.post("/api/pace/locomotives/<int:number>/stop")
    def stop(number: int) -> ResponseReturnValue:
        """Keep a measured stop, by which the prediction is corrected; ``null`` forgets it."""
        body = decoded(body_of(request), StopChange)
        door.require(request)
        followed, one = known(number)
        return kept(followed, with_stop(one, body.stop))

    @blueprint.get("/api/pace/locomotives/<int:number>/advice")
    def advice(number: int) -> ResponseReturnValue:
        """The settings that follow from what was measured; worked out by a process of its own."""
        door.require(request)
        followed, one = known(number)
        question = question_of(one, followed.plan.layout.ratio)
        return jsonify({"locomotive": locomotive_view(one), "advice": reckon(FITTING, question)})

    return blueprint


def one_of(present: list[Locomotive], number: int) -> Locomotive:
    """The one of that number. Raises ``AskError`` 404."""
    for one in present:
        if one.id == number:
            return one
    raise none_of(number)


def none_of(number: int) -> AskError:
    """What is said where there is no locomotive of that number."""
    return AskError(404, f"there is no locomotive {number} on this layout; load the page again")


def speed_of(passed: PassBody, followed: Followed) -> float:
    """The exact speed of one of the last passes. Raises ``AskError`` 404."""
    for t_us, at, mph in followed.board.speeds:
        if (t_us, at) == (passed.t_us, passed.at):
            return float(mph)
    raise AskError(404, "that pass is not among the last ones any more; type its speed instead")
