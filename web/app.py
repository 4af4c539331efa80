"""The Flask application: the pages, their static files, and the JSON behind them."""

from __future__ import annotations

from flask import Flask, Response, jsonify, render_template, request, send_from_directory
from flask.typing import ResponseReturnValue
from werkzeug.exceptions import HTTPException

from firmware_py.logbook.errors import LogbookError
from web.access.guards import knows_host, with_headers
from web.access.routes import access
from web.api import api
from web.asks import AskError
from web.backstage import Backstage
from web.bench.routes import bench_room
from web.commission.routes import commission_room
from web.crew.routes import crew_pages
from web.debrief.routes import debrief_room
from web.forecast.routes import forecast_room
from web.jobs.file_routes import job_files
from web.jobs.pages import job_pages
from web.jobs.routes import jobs
from web.jobs.settings import settings_api
from web.live.by_hand import hands_view
from web.pace.pages import pace_pages
from web.pace.roll_routes import pace_rolls
from web.pace.routes import pace_locomotives
from web.pace.track_routes import pace_track
from web.proof.routes import proof_page
from web.refusals import refused
from web.static_files import FOLDER, KEPT_S, static_path

LARGEST_BODY = 16 * 1024


def create_app(backstage: Backstage) -> Flask:
    """The application over an open logbook and a follower, which the caller starts and closes."""
    app = Flask(__name__, static_url_path=static_path())
    app.config["SEND_FILE_MAX_AGE_DEFAULT"] = KEPT_S
    app.url_map.merge_slashes = False  # A path that is none is answered, not led elsewhere.
    app.config["MAX_CONTENT_LENGTH"] = LARGEST_BODY
    app.json.sort_keys = False  # type: ignore[attr-defined] # Flask types only the base provider.
    app.register_blueprint(api(backstage))
    app.register_blueprint(access(backstage.door))
    app.register_blueprint(debrief_room(backstage))
    app.register_blueprint(bench_room(backstage))
    app.register_blueprint(forecast_room(backstage))
    app.register_blueprint(crew_pages(backstage))
    app.register_blueprint(commission_room(backstage))
    app.register_blueprint(jobs(backstage))
    app.register_blueprint(job_files(backstage))
    app.register_blueprint(settings_api(backstage))
    app.register_blueprint(job_pages(backstage))
    app.register_blueprint(pace_locomotives(backstage))
    app.register_blueprint(pace_track(backstage))
    app.register_blueprint(pace_rolls(backstage))
    app.register_blueprint(pace_pages(backstage))
    app.register_blueprint(proof_page(backstage))
    app.before_request(_own_host)
    app.after_request(with_headers)
    app.register_error_handler(AskError, _refused)
    app.register_error_handler(LogbookError, _unreachable)
    app.register_error_handler(HTTPException, _http)

    @app.context_processor
    def frame() -> dict[str, object]:
        """What every page's head says, and has room for, before it follows the log."""
        followed = backstage.follower.followed
        if followed is None:
            return {
                "layout_name": "",
                "opened": None,
                "simulated": False,
                "worked_by_hand": [],
            }
        session = followed.session
        hands = hands_view(followed.plan, followed.by_hand)
        return {
            "layout_name": followed.plan.layout.name,
            "opened": session.opened,
            "simulated": session.simulated,
            "worked_by_hand": [one["called"] for one in hands.values()],
        }

    @app.get("/")
    def board() -> ResponseReturnValue:
        return render_template("board.html")

    @app.get("/static/<path:filename>")
    def unversioned(filename: str) -> ResponseReturnValue:
        """One of the pages' files by its bare name, which a browser asks about each time."""
        response = send_from_directory(FOLDER, filename)
        response.headers["Cache-Control"] = "no-cache"
        return response

    return app


def _own_host() -> ResponseReturnValue | None:
    if knows_host(request.host):
        return None
    return jsonify({"error": "this screen answers only to this machine's own name or address"}), 421


def _refused(error: AskError) -> ResponseReturnValue:
    return refused(error.status, error.reason, error.retry_after_s)


def _unreachable(error: LogbookError) -> ResponseReturnValue:
    return refused(503, f"the logbook can't be used now: {error}")


def _http(error: HTTPException) -> ResponseReturnValue:
    if isinstance(error.response, Response):
        return error.response
    if error.code == 404:
        return refused(404, "there is nothing at this address")
    return refused(error.code or 500, error.description or error.name)
