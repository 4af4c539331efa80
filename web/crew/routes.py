"""A crew's page and its JSON. Whoever has the link works its one job; nobody signs in."""

from __future__ import annotations

import time
from collections.abc import Iterator
from itertools import chain
from typing import Any

import msgspec
from flask import Blueprint, Response, jsonify, render_template, request
from flask.typing import ResponseReturnValue

from firmware_py.logbook.requests import leave_order
from firmware_py.logbook.screen.jobs import Job
from firmware_py.logbook.screen.rounds import rounds
from firmware_py.logbook.screen.settings import secret
from firmware_py.logbook.screen.ticks import Step, Tick, make_tick, take_back
from web.access.links import OLD_ROUNDS, job_of
from web.asks import AskError, decoded
from web.backstage import Backstage, wall_us
from web.bodies import body_of
from web.crew.asks import CrewOrder, CrewTick, judge_back, judge_order, judge_tick
from web.crew.telling import beat_of, topic_of
from web.live.log import Followed
from web.live.streams import Feed

UNKNOWN = "there is no job with this link; look at it again, or ask the host"
OVER = "this job's evening is over; ask the host for a new link"
TAKEN_AWAY = "the host has taken this job away; ask the host for another one"
SPARED_BY_CREWS = 1 / 12
"""Crews leave this share of all places to the host."""
AGAIN = frozenset({Step.YARD, Step.REAR, Step.HORN, Step.STRETCH})
"""Steps that may be done anew: the later tick counts."""


class Crew:
    """Finds the job of a link, what its page shows, and does what its crew may do."""

    def __init__(self, backstage: Backstage) -> None:
        self._backstage = backstage
        self._follower = backstage.follower

    def job(self, link: str) -> tuple[Followed, Job]:
        """The job. Raises ``AskError``: 404 for an unknown link, 410 for one that is over."""
        followed = self._backstage.followed()
        engine = self._backstage.engine
        key = secret(engine, "link-secret")
        job = job_of(link, key, followed.round_id, followed.jobs)
        if job is None:
            former = {*rounds(engine, OLD_ROUNDS), 0} - {followed.round_id}
            if any(job_of(link, key, one, followed.jobs) for one in former):
                raise AskError(410, OVER)
            raise AskError(404, UNKNOWN)
        if job.dropped:
            raise AskError(410, TAKEN_AWAY)
        return followed, job

    def drawn(self, job: Job) -> bytes:
        """The JSON of the page as last drawn. Raises ``AskError`` 503 where there is none."""
        state = self._follower.hub.state(topic_of(job.id))
        if state is None or self._follower.stuck:
            raise AskError(503, "the screen has not drawn this job yet; try again in a moment")
        return state.data

    def clock_us(self) -> int | None:
        """The session's time."""
        return self._follower.crews.clock_us(time.monotonic())

    def order(self, link: str, data: bytes) -> int:
        """Leave an order; the request's number. Asking says that the crew is there."""
        body = decoded(data, CrewOrder)
        followed, job = self.job(link)
        view = self._view(job)
        spur = judge_order(body, view)
        if body.command == "ask":
            self._tick(followed, job, view["at"]["stop"], Step.HERE)
        engine = self._backstage.engine
        return leave_order(engine, body.command, spur=spur, cars=body.cars, wall_us=wall_us())

    def tick(self, link: str, data: bytes) -> None:
        """Make a tick."""
        body = decoded(data, CrewTick)
        followed, job = self.job(link)
        judge_tick(body, self._view(job))
        if body.step in AGAIN:
            take_back(self._backstage.engine, followed.session.id, job.id, body.stop, body.step)
        self._tick(followed, job, body.stop, body.step)

    def back(self, link: str, data: bytes) -> bool:
        """Take a tick back; whether there was one."""
        body = decoded(data, CrewTick)
        followed, job = self.job(link)
        judge_back(body, self._view(job))
        engine, session = self._backstage.engine, followed.session.id
        return take_back(engine, session, job.id, body.stop, body.step)

    def frames(self, job: Job) -> Response:
        """The stream of a job's page: the time, then the page, then whatever changes."""
        follower = self._follower
        subscribed = follower.hub.subscribe(topic_of(job.id), spared=SPARED_BY_CREWS)
        if subscribed is None:
            most = follower.hub.most
            raise AskError(503, f"{most} screens are open already; close one of them")
        stream, first = subscribed
        feed = Feed(self._backstage.reader, follower, stream, None)
        frames: Iterator[bytes] = chain([beat_of(self.clock_us()).frame()], feed.frames(first))
        headers = {"X-Accel-Buffering": "no"}
        response = Response(frames, mimetype="text/event-stream", headers=headers)
        response.call_on_close(lambda: follower.hub.leave(stream))
        return response

    def _view(self, job: Job) -> dict[str, Any]:
        view: dict[str, Any] = msgspec.json.decode(self.drawn(job))
        return view

    def _tick(self, followed: Followed, job: Job, stop: int, step: Step) -> None:
        tick = Tick(job.id, stop, step, followed.last_id, wall_us())
        make_tick(self._backstage.engine, followed.session.id, tick)


def crew_pages(backstage: Backstage) -> Blueprint:
    """The blueprint of ``/crew/<link>`` and everything under ``/api/crew``."""
    blueprint = Blueprint("crew", __name__)
    crew = Crew(backstage)

    @blueprint.get("/crew/<link>")
    def page(link: str) -> ResponseReturnValue:
        """The page of one job; a link that is no good is told so in plain words."""
        try:
            crew.job(link)
        except AskError as gone:
            return render_template(
                "crew_gone.html", status=gone.status, why=gone.reason
            ), gone.status
        return render_template("crew.html", link=link)

    @blueprint.get("/api/crew/<link>")
    def view(link: str) -> ResponseReturnValue:
        """The page as it was last drawn, with the session's time."""
        _, job = crew.job(link)
        head = msgspec.json.encode({"clock_us": crew.clock_us()})
        return Response(head[:-1] + b"," + crew.drawn(job)[1:], mimetype="application/json")

    @blueprint.get("/api/crew/<link>/events")
    def events(link: str) -> ResponseReturnValue:
        """The stream: ``beat`` first, then ``job``, the whole page, at each change."""
        return crew.frames(crew.job(link)[1])

    @blueprint.post("/api/crew/<link>/orders")
    def orders(link: str) -> ResponseReturnValue:
        """Leave an order for the job's current spur: 202 with the request's number."""
        return jsonify({"request": crew.order(link, body_of(request))}), 202

    @blueprint.post("/api/crew/<link>/ticks")
    def ticks(link: str) -> ResponseReturnValue:
        """Tick a step that no contact sees."""
        crew.tick(link, body_of(request))
        return jsonify({"stands": True})

    @blueprint.post("/api/crew/<link>/ticks/back")
    def back(link: str) -> ResponseReturnValue:
        """Take a tick back that was made by mistake."""
        return jsonify({"taken": crew.back(link, body_of(request)), "stands": False})

    return blueprint
