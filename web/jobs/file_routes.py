"""The jobs as a TOML file: taken in and given out, both for the host."""

from __future__ import annotations

from flask import Blueprint, Response, jsonify, request
from flask.typing import ResponseReturnValue

from firmware_py.logbook.screen.job_files import JobFileError, read_jobs, write_jobs
from firmware_py.logbook.screen.job_lists import TooManyJobsError, take_in
from firmware_py.logbook.screen.jobs import jobs_of
from web.access.door import NO_PIN, SIGN_IN
from web.asks import AskError
from web.backstage import Backstage, wall_us
from web.jobs.bodies import ImportBody, large

TOO_LARGE = (
    "this file is too large to be sent; one of up to 64 KiB can be. Larger ones are read on the "
    "box: spurlock jobs LOGBOOK --import FILE"
)


def job_files(backstage: Backstage) -> Blueprint:
    """The blueprint of ``/api/jobs/import`` and ``/api/jobs/export.toml``."""
    blueprint = Blueprint("job-files", __name__)
    engine, door = backstage.engine, backstage.door

    @blueprint.post("/api/jobs/import")
    def take() -> ResponseReturnValue:
        """Take in a file of jobs: all of them or, with what is wrong, none."""
        body = large(request, ImportBody, TOO_LARGE)
        door.require(request)
        followed = backstage.followed()
        try:
            found = read_jobs(body.toml, "", followed.plan.layout)
            name = followed.session.layout_name
            ids = take_in(engine, name, found, wall_us(), replace=body.replace)
        except JobFileError as wrong:
            lines = wrong.lines()
            return jsonify({"error": f"nothing was taken in: {lines[0]}", "wrong": lines}), 409
        except TooManyJobsError as wrong:
            raise AskError(409, str(wrong)) from None
        return jsonify({"ids": ids}), 201

    @blueprint.get("/api/jobs/export.toml")
    def give() -> ResponseReturnValue:
        """All the jobs as a file, with their notes."""
        if door.token(request) is None:
            raise AskError(401, SIGN_IN if door.has_pin else NO_PIN)
        text = write_jobs(jobs_of(engine, backstage.followed().session.layout_name))
        headers = {"Content-Disposition": 'attachment; filename="jobs.toml"'}
        return Response(text, mimetype="application/toml", headers=headers)

    return blueprint
