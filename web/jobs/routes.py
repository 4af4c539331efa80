"""The jobs, as JSON: to watch for everybody, to prepare for the host."""

from __future__ import annotations

from flask import Blueprint, jsonify, request
from flask.typing import ResponseReturnValue

from firmware_py.logbook.screen.job_lists import TooManyJobsError, bring_back, check_room
from firmware_py.logbook.screen.jobs import Job, drop_job, jobs_of, order_jobs, save_job
from firmware_py.logbook.screen.settings import secret
from web.asks import AskError, decoded
from web.backstage import Backstage, wall_us
from web.bodies import body_of
from web.jobs.bodies import DropBody, JobBody, OrderBody, job_in, large
from web.jobs.views import job_view, layout_view, with_paths

JOB_TOO_LARGE = "this job is too long to be sent; a job takes 64 KiB"


def jobs(backstage: Backstage) -> Blueprint:
    """The blueprint of ``/api/jobs`` and of what is done with one job or their order."""
    blueprint = Blueprint("jobs", __name__)
    engine, door = backstage.engine, backstage.door

    @blueprint.get("/api/jobs")
    def read() -> ResponseReturnValue:
        """The layout's jobs in their order, and what a job can name."""
        followed = backstage.followed()
        host = door.token(request) is not None
        views = [job_view(job, host=host) for job in jobs_of(engine, followed.session.layout_name)]
        if host:
            key = secret(engine, "link-secret")
            views = [with_paths(view, key, followed.round_id) for view in views]
        return jsonify(layout_view(followed.plan.layout) | {"host": host, "jobs": views})

    @blueprint.post("/api/jobs")
    def save() -> ResponseReturnValue:
        """Make a job, or put one in the place of that with its id."""
        body = large(request, JobBody, JOB_TOO_LARGE)
        door.require(request)
        followed = backstage.followed()
        job = job_in(body, followed.plan.layout)
        present = jobs_of(engine, followed.session.layout_name)
        if job.id:
            _known(job.id, present)
        else:
            _room(len(present) + 1)
        saved = save_job(engine, followed.session.layout_name, job, wall_us())
        return jsonify({"job": saved}), 200 if job.id else 201

    @blueprint.post("/api/jobs/<int:number>/drop")
    def drop(number: int) -> ResponseReturnValue:
        """Take a job away, or bring one back."""
        body = decoded(body_of(request), DropBody)
        door.require(request)
        name = backstage.followed().session.layout_name
        every = jobs_of(engine, name, dropped=True)
        job = _known(number, every)
        if body.back:
            _room(sum(not one.dropped for one in every) + job.dropped)
            bring_back(engine, number, wall_us())
        else:
            drop_job(engine, number, wall_us())
        return jsonify({"job": number, "dropped": not body.back})

    @blueprint.post("/api/jobs/order")
    def order() -> ResponseReturnValue:
        """Put all the jobs into an order."""
        body = decoded(body_of(request), OrderBody)
        door.require(request)
        name = backstage.followed().session.layout_name
        if sorted(body.ids) != sorted(job.id for job in jobs_of(engine, name)):
            raise AskError(409, "the list has changed since; load the page and order it again")
        order_jobs(engine, name, body.ids)
        return jsonify({"ids": body.ids})

    return blueprint


def _known(number: int, among: list[Job]) -> Job:
    for job in among:
        if job.id == number:
            return job
    raise AskError(404, f"there is no job {number} on this layout; load the page again")


def _room(count: int) -> None:
    try:
        check_room(count)
    except TooManyJobsError as wrong:
        raise AskError(409, str(wrong)) from None
