"""The pages of preparing: the jobs, each job's sheet, and the briefing."""

from __future__ import annotations

from flask import Blueprint, render_template, request
from flask.typing import ResponseReturnValue

from firmware_py.logbook.screen.jobs import jobs_of
from firmware_py.logbook.screen.settings import secret, settings
from web.access.links import link_of
from web.backstage import Backstage
from web.jobs.addresses import example_address, is_loopback
from web.jobs.briefing import briefing_of
from web.jobs.own_steps import OWN_STEP
from web.jobs.settings import OWN_STEPS, address, crew_steps
from web.jobs.sheet import qr_svg, sheet_of


def job_pages(backstage: Backstage) -> Blueprint:
    """The blueprint of ``/jobs``, ``/jobs/<id>/sheet`` and ``/briefing``."""
    blueprint = Blueprint("job-pages", __name__)

    @blueprint.get("/jobs")
    def jobs() -> ResponseReturnValue:
        """The list of jobs, the form that makes one, and the evening's settings."""
        return render_template(
            "jobs.html",
            own_steps=[(step.value, OWN_STEP[step]) for step in OWN_STEPS],
            example=example_address(request.host_url),
            own_address=request.host_url.rstrip("/"),
        )

    @blueprint.get("/jobs/<int:number>/sheet")
    def sheet(number: int) -> ResponseReturnValue:
        """A job's sheet. It shows the crew's link, so it is for the host."""
        if backstage.door.token(request) is None:
            return render_template("sheet.html", sheet=None, host=False), 401
        followed = backstage.followed()
        listed = jobs_of(backstage.engine, followed.session.layout_name)
        job = next((one for one in listed if one.id == number), None)
        if job is None:
            return render_template("sheet.html", sheet=None, host=True), 404
        kept = settings(backstage.engine)
        base = address(kept) or request.host_url.rstrip("/")
        key = secret(backstage.engine, "link-secret")
        path = f"/crew/{link_of(key, followed.round_id, job.id)}"
        return render_template(
            "sheet.html",
            sheet=sheet_of(job, followed.plan, crew_steps(kept)),
            host=True,
            url=base + path,
            base=base,
            path=path,
            qr=qr_svg(base + path),
            loopback=is_loopback(base),
            example=example_address(request.host_url),
        )

    @blueprint.get("/briefing")
    def briefing() -> ResponseReturnValue:
        """The briefing for the group."""
        followed = backstage.follower.followed
        told = briefing_of(followed.plan.layout) if followed else None
        return render_template("briefing.html", told=told)

    return blueprint
